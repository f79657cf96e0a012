/* Taps that the server has not acknowledged, kept on the tablet: a reload or a crash loses none. */

const NAME = 'tailward-exam', STORE = 'operations';

export class Queue {
  /* `visit`: only its own taps are read. `broken` says why taps cannot be kept, or is empty. */
  constructor(visit) { this.visit = visit; this.broken = ''; }

  async open() {
    try {
      this.db = await done(upgrading(indexedDB.open(NAME, 1)));
    } catch {
      this.broken = 'This browser keeps nothing: taps are lost if the page is closed before they are saved.';
    }
    return this;
  }
  async all() {
    if (!this.db) return [];
    const rows = await done(this.db.transaction(STORE).objectStore(STORE).index('visit').getAll(this.visit));
    return rows.sort((a, b) => a.n - b.n).map(row => ({ ...row.op, n: row.n }));
  }
  /* The place it is kept at, by which it is dropped again. */
  async keep(op) {
    if (!this.db) return undefined;
    try {
      return await done(this.db.transaction(STORE, 'readwrite').objectStore(STORE).add({ visit: this.visit, op: { ...op } }));
    } catch (error) {
      this.broken = error?.name === 'QuotaExceededError' ? 'The storage of this tablet is full: taps cannot wait here. Stay on this page until all is saved.' : 'This tablet could not keep the last tap. Stay on this page until all is saved.';
      throw error;
    }
  }
  async drop(ops) {
    if (!this.db) return;
    const store = this.db.transaction(STORE, 'readwrite').objectStore(STORE);
    await Promise.all(ops.filter(op => op.n !== undefined).map(op => done(store.delete(op.n))));
  }
}

function upgrading(request) {
  request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: 'n', autoIncrement: true }).createIndex('visit', 'visit');
  return request;
}
const done = request => new Promise((yes, no) => { request.onsuccess = () => yes(request.result); request.onerror = () => no(request.error); });
