/* Sends what waits, in order, and asks how the exam stands. Nothing is dropped before the server answered it. */

const BATCH = 200, POLL = 1500, RETRY = [1000, 2000, 4000, 8000];
const GROUPS = ['station_all_normal', 'station_rest_not_examined'];

export class Sync {
  /* says: what the corner shows; changed: redraw; refused(op, answer); asks(words, link): trouble. */
  constructor(model, queue, { says, changed, refused, trouble }) {
    Object.assign(this, { model, queue, says, changed, refused, trouble });
    this.state = 'kept'; this.busy = false; this.tries = 0; this.sends = 0; this.token = '';
    this.refusedBefore = new Map(); /* a refused tap's key to what it followed: its own followers are not stale by it */
    addEventListener('online', () => { this.tries = 0; this.send(); });
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.send(); });
    document.addEventListener('handed-over', event => this.handedOver(event.detail));
    setInterval(() => this.poll(), POLL);
  }

  async start() {
    const waiting = await this.queue.all();
    this.model.pending.push(...waiting);
    this.model.rebuild();
    this.say();
    if (this.queue.broken) this.trouble('storage', this.queue.broken);
    this.changed();
    this.send();
  }

  add(op) {
    if (op.what !== 'take_back') op.undo = true;
    this.model.pending.push(op);
    const before = this.model.put(op);
    if (op.what !== 'take_back' && before.length) this.model.past.push({ key: op.key, target: op.target, before });
    this.changed(op.target);
    this.say();
    op.kept = this.queue.keep(strip(op)).then(n => { op.n = n; }).catch(() => this.trouble('storage', this.queue.broken));
    queueMicrotask(() => this.send());
    return op;
  }

  takeBack() {
    const last = this.model.past.pop();
    if (!last) return null;
    const op = this.model.make(last.target, 'take_back', { operation: last.key });
    op.before = last.before;
    this.add(op);
    return last.target;
  }

  say() {
    const n = this.model.pending.length;
    this.says(n, this.state);
  }

  async send() {
    if (this.busy || !this.model.pending.length) return this.say();
    this.busy = true;
    clearTimeout(this.again);
    try {
      const batch = this.model.pending.slice(0, BATCH);
      await Promise.all(batch.map(op => op.kept));
      const answer = await this.post(batch);
      if (answer) await this.settle(batch, answer);
    } catch {
      this.state = 'offline';
      this.later();
    } finally {
      this.busy = false;
      this.say();
    }
    if (this.state === 'kept' && this.model.pending.length) this.send();
  }
  later() {
    this.again = setTimeout(() => this.send(), RETRY[Math.min(this.tries, RETRY.length - 1)]);
    this.tries += 1;
  }

  async post(batch, fresh = false) {
    const { urls } = this.model.data;
    if (!this.token || fresh) {
      const asked = await fetch(urls.token, { headers: { Accept: 'application/json' } });
      if (asked.status === 401) return this.signedOut();
      if (!asked.ok) throw new Error(String(asked.status));
      this.token = (await asked.json()).token;
    }
    const operations = batch.map(({ key, target, what, payload, made_at, walk_version, follows, grant }) => ({ key, target, what, payload, made_at, walk_version, follows, grant }));
    const answer = await fetch(urls.send, {
      method: 'POST', body: JSON.stringify({ operations }),
      headers: { 'Content-Type': 'application/json', Accept: 'application/json', 'X-CSRFToken': this.token },
    });
    if (answer.status === 401) return this.signedOut();
    if (answer.status === 403 && !fresh) return this.post(batch, true);
    if (!answer.ok) throw new Error(String(answer.status));
    this.sends += 1;
    return answer.json();
  }

  async settle(batch, { answers, state }) {
    const byKey = new Map(answers.map(a => [a.key, a])), gone = [], refusals = [];
    for (const op of batch) {
      const answer = byKey.get(op.key);
      if (!answer || answer.reason === 'grant') continue;
      gone.push(op);
      if (answer.result !== 'accepted') refusals.push([op, answer]);
    }
    this.model.pending = this.model.pending.filter(op => !gone.includes(op));
    this.model.past = this.model.past.filter(p => !refusals.some(([op]) => op.key === p.key));
    await this.queue.drop(gone);
    this.model.take(state);
    const strange = batch.length > gone.length;
    this.state = strange ? 'strange' : 'kept';
    this.tries = 0;
    this.trouble('signed-out', strange ? 'Some taps were made by somebody whom this tablet no longer knows. They wait here until that person signs in on it.' : '', this.model.data.urls.login);
    for (const [op] of refusals) this.refusedBefore.set(op.key, this.refusedBefore.get(op.follows) ?? op.follows);
    for (const [op, answer] of refusals) {
      if (answer.reason === 'stale' && GROUPS.includes(op.what)) this.add(this.model.make(op.target, op.what, op.payload));
      else if (answer.reason === 'stale' && this.refusedBefore.has(op.follows) && this.refusedBefore.get(op.follows) === (answer.version ?? '')) this.add(this.model.make(op.target, op.what, op.payload));
      else if (!(answer.reason === 'stale' && answer.same)) this.refused(op, answer);
    }
    this.changed();
  }

  signedOut() {
    this.state = 'signed-out';
    this.token = '';
    this.trouble('signed-out', 'You are signed out. What you tapped is kept on this tablet and is sent when you have signed in.', this.model.data.urls.login);
    this.later();
    return null;
  }

  async poll() {
    if (document.hidden || this.busy || this.model.pending.length) return;
    const sends = this.sends;
    try {
      const answer = await fetch(this.model.data.urls.state, { headers: { Accept: 'application/json', 'Tailward-Poll': '1', 'If-None-Match': `"${this.model.server.pulse}"` } });
      if (this.state === 'offline') { this.state = 'kept'; this.say(); }
      if (answer.headers.get('Tailward-Locked')) return document.dispatchEvent(new CustomEvent('tablet-locked'));
      if (answer.status === 401) return this.signedOut();
      if (answer.status !== 200) return;
      const state = await answer.json();
      if (sends !== this.sends || this.model.pending.length) return; /* older than what was sent meanwhile */
      const signed = state.signed && !this.model.server.signed;
      this.model.take(state);
      this.changed();
      if (signed) this.trouble('signed', 'The record was signed. Nothing changes here any more; reload to see it as signed.', location.pathname);
    } catch {
      this.state = 'offline';
      this.say();
    }
  }

  async handedOver({ grant, name }) {
    Object.assign(this.model.data.me, { grant, name });
    try {
      const answer = await fetch(this.model.data.urls.token, { headers: { Accept: 'application/json' } });
      if (answer.ok) { const told = await answer.json(); this.token = told.token; Object.assign(this.model.data.me, told.me); }
    } catch { /* the server asks for rights again with every tap */ }
    this.changed();
  }
}
const strip = ({ kept, n, ...op }) => op;
