/* Up and down without asking the server for each step; drag is an extra. What counts is the order of the
   hidden fields when the form is sent. Without this script the same buttons are sent as they are. */

for (const list of document.querySelectorAll('[data-order]')) {
  const said = list.closest('form').querySelector('[data-moved]');
  list.dataset.live = '';
  const name = item => item.querySelector('b').textContent.trim();
  const items = () => [...list.children];

  function moved(item) {
    const all = items();
    for (const each of all) {
      delete each.dataset.just;
      const [up, down] = each.querySelectorAll('.own-moves button');
      up.disabled = each === all[0];
      down.disabled = each === all.at(-1);
    }
    item.dataset.just = '';
    said.textContent = `${name(item)} is number ${all.indexOf(item) + 1} of ${all.length} now. Not kept yet.`;
  }

  list.addEventListener('click', event => {
    const button = event.target.closest('.own-moves button');
    if (!button) return;
    event.preventDefault();
    const item = button.closest('li'), up = button.value.endsWith(':up');
    const beside = up ? item.previousElementSibling : item.nextElementSibling;
    if (!beside) return;
    if (up) beside.before(item); else beside.after(item);
    moved(item);
    (button.disabled ? item.querySelector('.own-moves button:not(:disabled)') : button).focus();
    item.scrollIntoView({ block: 'nearest' });
  });

  if ('drag' in list.dataset) {
    let held = null;
    for (const item of items()) item.draggable = true;
    list.addEventListener('dragstart', event => { held = event.target.closest('li'); held.dataset.held = ''; event.dataTransfer.effectAllowed = 'move'; });
    list.addEventListener('dragover', event => {
      const over = event.target.closest('li');
      if (!held || !over) return;
      event.preventDefault();
      const box = over.getBoundingClientRect();
      if (over !== held) over[event.clientY < box.top + box.height / 2 ? 'before' : 'after'](held);
    });
    list.addEventListener('dragend', () => { if (held) { delete held.dataset.held; moved(held); } held = null; });
  }
}
