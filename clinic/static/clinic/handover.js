/* Handing the tablet on over an open page: the page underneath is never left and never reloaded.
   The exam listens for `handed-over` on document: detail.grant is whose operations are made from then on. */

import { hear, latestWorks, lockedHere, takeOver, touched as touchedHere, wasLocked } from './tablet.js';

const dialog = document.getElementById('handover');
const others = 'BroadcastChannel' in window ? new BroadcastChannel('tablet') : null; /* this tablet's other pages */
const token = () => document.querySelector('#handover-token [name=csrfmiddlewaretoken]')?.value ?? '';
const isLocked = () => dialog.hasAttribute('data-locked');
const setLocked = (yes, tell = true) => {
  if (yes && !isLocked()) {
    lockedHere(dialog.dataset.grant); /* also where the server does not hear of it: a page opened again stays locked */
    if (tell) others?.postMessage({ locked: true });
  }
  dialog.toggleAttribute('data-locked', yes);
};
const many = 60_000; /* one sign of life a minute is enough */
let touched = Date.now(), told = Date.now();

/* ---- The dialog ---- */

async function ask(address, options = {}) {
  const answer = await fetch(address, { ...options, headers: { 'HX-Request': 'true', ...options.headers }, redirect: 'follow' });
  hear(answer);
  if (answer.status === 401 || answer.redirected) return location.reload();
  if (!answer.ok && answer.status !== 422) throw new Error(String(answer.status));
  return answer.text();
}

function noNetwork() {
  const said = dialog.querySelector('[role=status]');
  const words = 'No answer from the clinic’s server. Nothing was lost; try again when the network is back.';
  if (said) said.textContent = words;
  else dialog.innerHTML = `<h1 id="handover-title">No network</h1><p class="lead" role="status">${words}</p><p><a class="button" href="${dialog.dataset.src}" data-hand-link>Try again</a> <a class="button button-plain" href="#" data-hand-close>Close</a></p>`;
  const close = dialog.querySelector('[data-hand-close]');
  if (close && isLocked()) close.remove();
}

async function show(promise) {
  try {
    const words = await promise;
    if (words === undefined) return;
    dialog.innerHTML = words;
    ready(dialog);
  } catch {
    noNetwork();
  }
}

async function open() {
  if (!dialog.open) {
    /* what it showed last would be swapped away under the next finger */
    dialog.querySelector('h1').textContent = 'Who is working now?';
    dialog.replaceChildren(dialog.querySelector('h1'));
    dialog.showModal();
  }
  await show(ask(dialog.dataset.src));
}

function worksNow(form) {
  const { worksNow: grant, name } = form.dataset;
  begin(grant, name);
  others?.postMessage({ grant, name, works: latestWorks() });
}
function begin(grant, name) {
  setLocked(false);
  touched = Date.now();
  touchedHere();
  dialog.dataset.grant = grant;
  for (const place of document.querySelectorAll('[data-works-here]')) place.textContent = name;
  document.dispatchEvent(new CustomEvent('handed-over', { detail: { grant, name } }));
}

/* Makes the pad work and sends the PIN by itself at the fourth digit, in the dialog and on the page of its own. */
function ready(root) {
  const done = root.querySelector('[data-works-now]');
  if (done) worksNow(done);
  const form = root.querySelector('[data-hand-pin]');
  if (!form) return (root.querySelector('[autofocus], .field-wrong input, input:not([type=hidden])') ?? root).focus();
  const pin = form.elements.pin, pad = form.querySelector('[data-pad]');
  pad.hidden = false;
  const chosen = () => form.querySelector('[name=who]:checked');
  const name = () => { form.querySelector('[data-pin-of]').textContent = chosen() ? `PIN of ${chosen().dataset.name}` : 'Choose a name, then the PIN'; };
  const typed = () => {
    pin.value = pin.value.replace(/\D/g, '').slice(0, 4);
    if (pin.value.length === 4 && chosen()) form.requestSubmit();
    else if (pin.value.length === 4) { pin.value = ''; form.querySelector('[role=status]').textContent = 'Choose a name first; the digits were not kept.'; }
  };
  for (const radio of form.querySelectorAll('[name=who]')) radio.addEventListener('change', () => { pin.value = ''; name(); });
  pin.addEventListener('input', typed);
  pad.addEventListener('click', event => {
    const key = event.target.closest('button');
    if (!key) return;
    if (key.dataset.do === 'clear') pin.value = '';
    else if (key.dataset.do === 'back') pin.value = pin.value.slice(0, -1);
    else pin.value += key.textContent;
    typed();
  });
  name();
  (chosen() ? pin : form.querySelector('[name=who]')).focus();
}

if (dialog) {
  for (const link of document.querySelectorAll('[data-hands-over]')) link.addEventListener('click', event => {
    event.preventDefault();
    open();
  });
  dialog.addEventListener('click', event => {
    const link = event.target.closest('[data-hand-link], [data-hand-close]');
    if (!link) return;
    event.preventDefault();
    if (link.hasAttribute('data-hand-close')) dialog.close();
    else show(ask(link.href));
  });
  dialog.addEventListener('submit', event => {
    const form = event.target;
    if (form.method === 'dialog') return;
    event.preventDefault();
    event.stopPropagation(); /* page.js would mark it as sent for good */
    if (form.dataset.busy) return;
    form.dataset.busy = 'yes';
    if (form.action.endsWith(dialog.dataset.lock)) setLocked(true);
    show(ask(form.action, { method: 'POST', body: new FormData(form) })).finally(() => delete form.dataset.busy);
  });
  /* A locked tablet's dialog has no way round it. */
  dialog.addEventListener('cancel', event => { if (isLocked()) event.preventDefault(); });
  dialog.addEventListener('close', () => { if (isLocked()) open(); });
  keepWatch();
  touchedHere();
  wasLocked(dialog.dataset.grant).then(yes => { if (yes) { setLocked(true); open(); } });
  others?.addEventListener('message', ({ data }) => {
    if (data.touched) { touched = Math.max(touched, data.touched); return; }
    if (data.locked) { setLocked(true, false); open(); return; }
    takeOver(data.works);
    begin(data.grant, data.name);
    dialog.close();
  });
  /* What another script or htmx is refused, a locked tablet says with this header. */
  document.addEventListener('tablet-locked', () => { setLocked(true); open(); });
  document.addEventListener('htmx:responseError', event => {
    if (event.detail.xhr.getResponseHeader('Tailward-Locked')) { setLocked(true); open(); }
  });
}
ready(document.querySelector('main.hand') ?? document.createElement('div'));

/* ---- Ten minutes untouched ---- */

function keepWatch() {
  const after = Number(dialog.dataset.locksAfter) * 1000;
  const touch = () => {
    if (isLocked()) return;
    touched = Date.now();
    if (touchedHere()) others?.postMessage({ touched });
    if (touched - told < many) return;
    told = touched;
    fetch(dialog.dataset.touched, { method: 'POST', headers: { 'X-CSRFToken': token(), 'HX-Request': 'true' } })
      .then(answer => { if (answer.headers.get('Tailward-Locked')) { setLocked(true); open(); } })
      .catch(() => {}); /* without a network the server locks by its own clock; the page stays */
  };
  for (const kind of ['pointerdown', 'keydown']) document.addEventListener(kind, touch, { passive: true, capture: true });
  const look = () => {
    if (isLocked() || Date.now() - touched < after) return;
    setLocked(true);
    if (!dialog.open) dialog.showModal();
    show(ask(dialog.dataset.lock, { method: 'POST', headers: { 'X-CSRFToken': token() } }));
  };
  setInterval(look, 5_000);
  document.addEventListener('visibilitychange', look); /* a tablet that slept */
}
