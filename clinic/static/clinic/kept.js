/* What this tablet keeps by itself: one database for the whole of Tailward, opened here and nowhere else.
   The service worker reads the same database (clinic/platform/worker.js). Stores:
   operations {n, visit, op}: taps the server has not acknowledged, in the order of `n`; index `visit`
   photos     {n, visit, …}:  photographs on their way, in the order of `n`; index `visit`
   exams      {visit, name, page, send, token, state, at}: whose they are, where they go, how the exam stood last
   tablet     by key: `works` {grant, at} who works here as the server said last, `touched` when somebody last did */

const NAME = 'tailward', VERSION = 1;
export const STORES = ['operations', 'photos', 'exams', 'tablet'];

/* Rejects where the browser keeps nothing: a private window, storage switched off, a disk that is full. */
export function openKept() {
  return new Promise((yes, no) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const db = request.result;
      for (const store of ['operations', 'photos']) db.createObjectStore(store, { keyPath: 'n', autoIncrement: true }).createIndex('visit', 'visit');
      db.createObjectStore('exams', { keyPath: 'visit' });
      db.createObjectStore('tablet');
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close(); /* a newer release's page wants to upgrade */
      yes(request.result);
    };
    request.onerror = () => no(request.error);
    request.onblocked = () => no(new Error('blocked'));
  });
}
export const done = request => new Promise((yes, no) => { request.onsuccess = () => yes(request.result); request.onerror = () => no(request.error); });

/* Runs `work(stores)` in one transaction and answers only once it is on the disk: a full disk is told at the
   commit, not at the request. `work` asks for everything at once, so that a page closed in that moment takes
   nothing back; `asksOn`: it asks on when it is answered. */
export function within(db, names, work, { asksOn = false } = {}) {
  return new Promise((yes, no) => {
    const step = db.transaction(names, 'readwrite', { durability: 'strict' });
    let result;
    step.oncomplete = () => yes(result?.result ?? result);
    step.onabort = () => no(step.error ?? new Error('aborted'));
    try {
      result = work(...names.map(name => step.objectStore(name)));
      if (!asksOn) step.commit();
    } catch (error) { no(error); }
  });
}

/* An operation as the server takes it: what the page adds for itself stays here. */
export const asSent = ({ key, target, what, payload, made_at, walk_version, follows, grant, observed_by }) => ({ key, target, what, payload, made_at, walk_version, follows, grant, observed_by });
