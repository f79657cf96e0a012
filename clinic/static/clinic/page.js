/* What every page has: dialogs that open by a button, forms that are sent once, polled parts. */

for (const button of document.querySelectorAll('[data-opens]')) {
  button.addEventListener('click', async () => {
    const dialog = document.getElementById(button.dataset.opens);
    if (dialog.dataset.src) await fill(dialog, dialog.dataset.src);
    dialog.showModal();
  });
}

/* The dialog's content is an ordinary page fragment; without a network it says so and stays usable. */
async function fill(dialog, address) {
  try {
    const answer = await fetch(address, { headers: { 'HX-Request': 'true' } });
    if (!answer.ok) throw new Error(String(answer.status));
    dialog.innerHTML = await answer.text();
    dialog.dispatchEvent(new CustomEvent('filled'));
  } catch {
    dialog.innerHTML = '<h1>No network</h1><p>This needs the network. Nothing was lost; try again when it is back.</p><form method="dialog"><button class="button">Close</button></form>';
  }
}

/* A second tap on a button that is already sending does nothing; the server's one-time token is the guard. */
document.addEventListener('submit', event => {
  const form = event.target;
  if (form.method !== 'post' || form.hasAttribute('hx-post')) return;
  if (form.dataset.sent) { event.preventDefault(); return; }
  form.dataset.sent = 'yes';
});
window.addEventListener('pageshow', () => {
  for (const form of document.forms) delete form.dataset.sent;
});

/* What was typed or chosen before anything listened is looked for, reckoned or kept now: before this page's
   scripts had come, or in the moment between a part's coming into the page and its being woken. A page that
   came back may show restored values instead of the person's: those are left alone. */
window.addEventListener('load', () => {
  if (performance.getEntriesByType('navigation')[0]?.type === 'navigate') catchUp(document);
});
document.addEventListener('htmx:load', ({ target }) => {
  if (target !== document.body) catchUp(target);
});

function catchUp(root) {
  for (const field of root.querySelectorAll('[role=search] input[type=search]')) {
    if (touched(field)) field.form.requestSubmit();
  }
  for (const part of root.querySelectorAll('[hx-trigger*="change"]:not([role=search])')) {
    const field = [...part.querySelectorAll('input, select, textarea')].find(touched);
    field?.dispatchEvent(new Event('change', { bubbles: true }));
  }
}

function touched(field) {
  if (field.type === 'hidden') return false;
  if (field.type === 'radio' || field.type === 'checkbox') return field.checked && !field.defaultChecked;
  if (field.options) {
    const first = [...field.options].findIndex(each => each.defaultSelected);
    return field.selectedIndex !== Math.max(first, 0);
  }
  return field.value !== field.defaultValue;
}

/* On a phone the steps of a visit are wider than the screen: the one in hand stands in its middle. */
for (const step of document.querySelectorAll('.steps a[aria-current]')) {
  const steps = step.closest('.steps');
  steps.scrollLeft = step.offsetLeft - (steps.clientWidth - step.offsetWidth) / 2;
}

/* A page that waits for something being made looks again until it is there. */
if (document.querySelector('[data-until-ready]')) {
  const look = setInterval(async () => {
    const answer = await fetch(location.href, { method: 'GET', headers: { 'Tailward-Poll': '1' } }).catch(() => null);
    if (answer && answer.status === 200) { clearInterval(look); location.reload(); }
  }, 1500);
}
