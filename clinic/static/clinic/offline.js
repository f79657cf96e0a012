/* Shown instead of a page that could not be fetched: looks for the network, and lists what is kept here. */

import { done, openKept } from './kept.js';

const again = document.getElementById('again'), tried = document.getElementById('tried'), list = document.getElementById('kept-exams');
const OFTEN = 5_000;

async function look() {
  const answer = await fetch('/healthz', { cache: 'no-store' }).catch(() => null);
  if (answer?.ok) location.reload();
  return Boolean(answer?.ok);
}
again.addEventListener('click', async () => {
  tried.textContent = 'Asking the server …';
  if (!await look()) tried.textContent = `Still no answer at ${new Date().toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' })}.`;
});
addEventListener('online', look);
setInterval(look, OFTEN);

/* Only what the worker would open for whoever works here: it takes the others away at a hand-over. */
if (list) {
  const rows = await openKept().then(db => done(db.transaction('exams').objectStore('exams').getAll()), () => []);
  const open = rows.filter(row => row.state);
  list.hidden = !open.length;
  list.querySelector('ul').append(...open.map(row => {
    const item = document.createElement('li'), link = document.createElement('a');
    link.href = row.page;
    link.textContent = `Exam of ${row.name}`;
    item.append(link);
    return item;
  }));
}
