/* A list of ticks: says how many are ticked, takes them all away or back, and sends none at all. */

const form = document.querySelector('[data-ticks]');
const send = form?.querySelector('.button-main');
if (send) {
  const boxes = [...form.querySelectorAll(`input[name="${form.dataset.ticks}"]`)];
  const said = form.querySelector('[data-ticked]');
  const none = form.querySelector('[data-tick-none]');
  const say = () => {
    const many = boxes.filter(box => box.checked).length;
    send.disabled = many === 0;
    if (said) said.textContent = many;
    if (none) none.textContent = many ? 'Tick none' : 'Tick all';
    if (send.dataset.many) {
      send.textContent = many === 1 ? send.dataset.one : send.dataset.many.replace('{n}', many);
    }
  };
  if (none) {
    none.hidden = false;
    none.addEventListener('click', () => {
      const to = !boxes.some(box => box.checked);
      for (const box of boxes) box.checked = to;
      say();
    });
  }
  form.addEventListener('change', say);
  window.addEventListener('pageshow', say); // a page that came back keeps its ticks
  say();
}
