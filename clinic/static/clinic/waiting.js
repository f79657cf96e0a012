/* Taps that wait on this tablet are shown and counted on every page, and sent from every page.
   What the server refuses stays: only the exam's own page can show both values and let somebody choose.
   `waiting` on document, after every count: detail(visit) says what of it waits, as "2 taps", or is empty. */

import { asSent, done, openKept, within } from './kept.js';
import { sendPhoto, tokenFor } from './photo-send.js';

const OFTEN = 4_000, PATIENCE = 700, BATCH = 200;
const here = document.getElementById('exam-data') ? location.pathname : ''; /* its own corner counts these */
const mayName = Boolean(document.querySelector('[data-works-here], #kept-exams'));
const many = (n, word) => `${n} ${word}${n === 1 ? '' : 's'}`;
const box = document.createElement('div');
box.className = 'waiting';
box.setAttribute('role', 'status');
(document.getElementById('trouble') ?? document.getElementById('main')).prepend(box);

const db = await openKept().catch(() => null);
let shownFrom = Date.now() + PATIENCE;
const troubled = new Map(), late = new Map(); /* visit to why its taps wait; visit to those that came after the signature */

async function count() {
  const step = db.transaction(['operations', 'photos', 'exams']), found = new Map();
  const [operations, photos, exams] = await Promise.all(['operations', 'photos', 'exams'].map(name => done(step.objectStore(name).getAll())));
  const about = new Map(exams.map(exam => [exam.visit, exam]));
  const of = visit => found.get(visit) ?? found.set(visit, { ...about.get(visit), state: undefined, visit, taps: [], photos: 0 }).get(visit);
  for (const row of operations) of(row.visit).taps.push(row);
  for (const row of photos) of(row.visit).photos += 1;
  return found;
}

/* Names of exams that nothing waits for and that nobody has open here are not kept. */
function forgetNames(found) {
  return within(db, ['exams'], exams => {
    exams.openCursor().onsuccess = ({ target: { result: cursor } }) => {
      if (!cursor) return;
      if (!cursor.value.state && !found.has(cursor.value.visit)) cursor.delete();
      cursor.continue();
    };
  }, { asksOn: true }).catch(() => {}); /* tried again on the next page */
}

const words = ({ taps, photos }) => [taps.length && many(taps.length, 'tap'), photos && many(photos, 'photograph')].filter(Boolean).join(' and ');
function show(found) {
  const others = [...found.values()].filter(each => each.page !== here || !here);
  const rows = others.map(each => ({ ...each, words: words(each), verb: each.taps.length + each.photos === 1 ? 'waits' : 'wait' }));
  const lines = mayName
    ? rows.map(each => late.has(each.visit) ? tooLate(each) : [`${each.words} of ${each.name ? `${each.name}’s exam` : 'an exam'} ${each.verb} on this tablet${troubled.get(each.visit) ?? '.'}`, each.page])
    : rows.length ? [[`${words({ taps: rows.flatMap(each => each.taps), photos: rows.reduce((sum, each) => sum + each.photos, 0) })} ${rows.length === 1 ? rows[0].verb : 'wait'} on this tablet. What waits is sent once whoever tapped it works here again.`, '']] : [];
  const now = JSON.stringify(lines);
  if (box.dataset.lines === now || (Date.now() < shownFrom && navigator.onLine && lines.length)) return;
  box.dataset.lines = now;
  box.replaceChildren(...lines.map(each => notice(...each)));
}
/* Nobody but a person throws them away, having read them: an addendum may say what they said. */
function tooLate({ visit, name, page }) {
  const rows = late.get(visit);
  return [`${many(rows.length, 'tap')} of ${name ? `${name}’s exam` : 'an exam'} came after the record was signed and ${rows.length === 1 ? 'is' : 'are'} not in it. An addendum can say it. ${rows.map(row => row.op.said ?? row.op.target).join('; ')}.`, page, visit];
}
async function discard(visit) {
  const rows = late.get(visit) ?? [];
  await within(db, ['operations'], store => { for (const row of rows) store.delete(row.n); });
  late.delete(visit);
  return look();
}
function notice(text, page, visit) {
  const line = document.createElement('p'), said = document.createElement('span'), svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg'), use = document.createElementNS('http://www.w3.org/2000/svg', 'use');
  line.className = 'notice notice-look';
  svg.setAttribute('class', 'shape');
  svg.setAttribute('aria-hidden', 'true');
  use.setAttribute('href', '#s-waiting');
  svg.append(use);
  said.textContent = text;
  line.append(svg, said);
  if (page) {
    const link = document.createElement('a');
    link.className = 'button';
    link.href = page;
    link.textContent = 'Open the exam';
    line.append(link);
  }
  if (visit) {
    const button = document.createElement('button');
    button.type = 'button';
    button.className = 'button';
    button.textContent = 'Read: discard';
    button.addEventListener('click', () => discard(visit));
    line.append(button);
  }
  return line;
}

/* One exam's taps in their order; nothing is dropped before the server took it. */
async function carry({ visit, send, token: asks, taps }) {
  const asked = await fetch(asks, { headers: { Accept: 'application/json', 'Tailward-Poll': '1' } });
  if (asked.status === 401) return troubled.set(visit, ' until somebody signs in.');
  if (!asked.ok) throw new Error(String(asked.status));
  const { token } = await asked.json(), batch = taps.sort((a, b) => a.n - b.n).slice(0, BATCH);
  const answer = await fetch(send, {
    method: 'POST', body: JSON.stringify({ operations: batch.map(row => asSent(row.op)) }),
    headers: { 'Content-Type': 'application/json', Accept: 'application/json', 'X-CSRFToken': token, 'Tailward-Poll': '1' },
  });
  if (!answer.ok) throw new Error(String(answer.status));
  const told = await answer.json(), took = new Set(told.answers.filter(each => each.result === 'accepted').map(each => each.key));
  await within(db, ['operations'], store => { for (const row of batch) if (took.has(row.op.key)) store.delete(row.n); });
  const left = batch.filter(row => !took.has(row.op.key));
  if (left.length && told.answers.some(each => each.reason === 'signed')) late.set(visit, left);
  else if (left.length) troubled.set(visit, ': the server did not take all of it. Open the exam to see why.');
  else troubled.delete(visit);
  return took.size;
}

/* Photographs go one by one, from where no exam's own page does it. What was refused stays for that page. */
async function carryPhotos() {
  if (here) return;
  const rows = (await done(db.transaction('photos').objectStore('photos').getAll())).filter(row => !row.refused);
  for (const row of rows) {
    const token = await tokenFor(row), { became, words: why } = token ? await sendPhoto(row, token) : { became: 'signed-out' };
    if (became === 'signed-out') return;
    if (became === 'arrived') await within(db, ['photos'], store => { store.delete(row.n); });
    if (became === 'refused') await within(db, ['photos'], store => { store.put({ ...row, refused: why }); });
  }
}

function tell(found) {
  document.dispatchEvent(new CustomEvent('waiting', { detail: visit => (found.has(Number(visit)) ? words(found.get(Number(visit))) : '') }));
}

let busy = false;
async function look() {
  if (!db) return tell(new Map()); /* nothing is kept here, so nothing waits */
  if (busy) return;
  busy = true;
  try {
    let found = await count();
    const going = mayName ? [...found.values()].filter(each => each.send && each.taps.length && each.page !== here && !troubled.has(each.visit) && !late.has(each.visit)) : [];
    for (const each of going) await carry(each).catch(() => { shownFrom = 0; });
    const pictured = mayName && [...found.values()].some(each => each.photos);
    if (pictured) await carryPhotos().catch(() => { shownFrom = 0; });
    if (going.length || pictured) found = await count();
    show(found);
    tell(found);
  } finally { busy = false; }
}
addEventListener('online', () => { troubled.clear(); look(); });
document.addEventListener('look-again', look);
if (db) count().then(forgetNames);
setInterval(look, OFTEN);
setTimeout(look, PATIENCE);
look();
