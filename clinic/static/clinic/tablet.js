/* What this browser knows of the tablet: its service worker, who works here, and when somebody last touched it. */

import { done, openKept, within } from './kept.js';

const WORKS = 'Tailward-Works', SELDOM = 15_000;
const database = openKept().catch(() => null);
const worker = () => navigator.serviceWorker?.ready.then(found => found.active);

if (navigator.serviceWorker) addEventListener('load', () => {
  database.then(() => navigator.serviceWorker.register('/worker.js', { scope: '/' })).catch(() => document.dispatchEvent(new CustomEvent('no-worker')));
});

/* Every answer of the server says who works here and when that was so (clinic/people/middleware.py). The worker is
   told, and drops what it kept for somebody else. */
let latest = { at: 0 };
function take(says) {
  const [at, grant = ''] = says.split(' ');
  if (Number(at) < latest.at) return false; /* it left before the last hand-over */
  const changed = grant !== latest.grant;
  latest = { at: Number(at), grant };
  if (changed) worker()?.then(found => found?.postMessage({ works: says }));
  return true;
}
const own = document.getElementById('handover')?.dataset.works;
if (own) take(own);

/* The grant at work now ('' for nobody); undefined where the answer is too old to say. */
export function hear(answer) {
  const says = answer.headers.get(WORKS);
  return says && take(says) ? latest.grant : undefined;
}
export const saidAt = answer => Number(answer.headers.get(WORKS)?.split(' ')[0]) || 0;
/* Heard by another page of this tablet. */
export const latestWorks = () => `${latest.at} ${latest.grant ?? ''}`;
export const takeOver = take;

async function ask(words) {
  const { port1, port2 } = new MessageChannel(), answered = new Promise(yes => { port1.onmessage = yes; });
  (await worker())?.postMessage(words, [port2]);
  return answered;
}
/* Have a page kept as it is now, for whoever works here now. Resolves once the worker is through with it. */
export const keepPage = path => ask({ keep: path });
/* Resolves once the worker has heard of the answers so far, and has dropped what they make it drop. */
export const quiet = () => ask({});

async function put(key, value) {
  const db = await database;
  if (db) await within(db, ['tablet'], store => { store.put(value, key); }).catch(() => {}); /* full: the worker then shows less, never more */
}
let told = 0;
export function touched() {
  if (Date.now() - told < SELDOM) return false;
  told = Date.now();
  put('touched', told);
  return true;
}
/* Locked on this tablet, whether the server heard of it or not: until another grant works here. */
export const lockedHere = grant => put('locked', grant);
export async function wasLocked(grant) {
  const db = await database;
  return Boolean(db && grant) && await done(db.transaction('tablet').objectStore('tablet').get('locked')) === grant;
}
