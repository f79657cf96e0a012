/* Intake saves block by block. The corner says where the work is; what could not be sent waits and is sent again. */

const kept = document.getElementById('kept');
const waiting = new Set();
let sending = 0;

document.documentElement.classList.add('scripted');

function tell() {
  const [state, shape, words] = waiting.size
    ? ['waiting', 's-waiting', `${waiting.size} waiting for the network`]
    : sending
      ? ['waiting', 's-waiting', 'saving']
      : ['kept', 's-kept', 'all saved'];
  kept.dataset.state = state;
  kept.querySelector('use').setAttribute('href', `#${shape}`);
  kept.querySelector('span').textContent = words;
}

document.addEventListener('htmx:beforeRequest', () => { sending += 1; tell(); });
document.addEventListener('htmx:afterRequest', event => {
  sending -= 1;
  const element = event.detail.elt;
  const status = event.detail.xhr.status;
  if (status === 0 || status >= 500) waiting.add(element); else waiting.delete(element);
  tell();
});

/* Only what saves by itself is sent again by itself; a button's form keeps its words and is tapped again. */
function again() {
  for (const element of waiting) {
    waiting.delete(element);
    if (!document.contains(element)) continue;
    if (element.getAttribute('hx-trigger')?.includes('change')) window.htmx.trigger(element, 'change');
    else waiting.add(element);
  }
  tell();
}
window.addEventListener('online', again);
setInterval(() => { if (waiting.size && navigator.onLine) again(); }, 15_000);
window.addEventListener('beforeunload', event => { if (waiting.size || sending) event.preventDefault(); });

/* A place on the drawing narrows the stations to those that lie there. */
document.addEventListener('change', event => {
  if (event.target.name !== 'region') return;
  const stations = document.getElementById('stations');
  stations.dataset.region = event.target.value;
  for (const region of stations.querySelectorAll('.region')) {
    region.toggleAttribute('data-shown', region.dataset.region === event.target.value);
  }
  const shown = stations.querySelectorAll('[data-shown] input');
  if (shown.length === 1) shown[0].checked = true;
});
