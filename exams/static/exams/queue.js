/* Taps that the server has not acknowledged, and how the exam stood last, kept on the tablet: a reload or a crash
   loses none, and what was acknowledged is still there when the page opens without a network. */

import { done, openKept, within } from '../clinic/kept.js';

const LOST = 'This browser keeps nothing (a private window, or its storage is switched off): taps are lost if the page is closed before they are saved.';
const FULL = 'The storage of this tablet is full: taps cannot wait here. Stay on this page until all is saved.';
const FAILED = 'This tablet could not keep the last tap. Stay on this page until all is saved.';

export class Queue {
  /* `about`: {visit, name, page, send, token}, of whose exam and where its taps go. Only its own taps are read.
     `broken` says why taps cannot be kept, or is empty. */
  constructor(about) { this.about = about; this.visit = about.visit; this.broken = ''; }

  async open() {
    try {
      this.db = await openKept();
      navigator.storage?.persist?.(); /* asks the browser to clear this last; it may say no */
    } catch { this.broken = LOST; }
    return this;
  }
  async all() {
    if (!this.db) return [];
    const rows = await done(this.db.transaction('operations').objectStore('operations').index('visit').getAll(this.visit));
    return rows.sort((a, b) => a.n - b.n).map(row => ({ ...row.op, n: row.n }));
  }
  /* The place it is kept at, by which it is dropped again. */
  async keep(op) {
    if (!this.db) return undefined;
    const n = await this.write(['operations'], operations => operations.add({ visit: this.visit, op: { ...op } }));
    this.broken = '';
    return n;
  }
  /* Acknowledged: the taps go in the same step in which what they did comes. */
  async drop(ops, state, at) {
    if (!this.db) return;
    await this.write(['operations', 'exams'], (operations, exams) => {
      for (const op of ops) if (op.n !== undefined) operations.delete(op.n);
      exams.put({ ...this.about, state, at });
    });
  }
  /* How the exam stood when the server said it last: {state, at}; `at` is the server's time in ms. */
  async stood() {
    const row = this.db && await done(this.db.transaction('exams').objectStore('exams').get(this.visit));
    return row?.state ? row : null;
  }
  stands(state, at) { return this.drop([], state, at); }

  async write(stores, work) {
    try { return await within(this.db, stores, work); } catch (error) {
      this.broken = error?.name === 'QuotaExceededError' ? FULL : FAILED;
      throw error;
    }
  }
}
