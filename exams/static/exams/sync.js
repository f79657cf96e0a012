/* Sends what waits, in order, and asks how the exam stands. Nothing is dropped before the server answered it. */

import { asSent } from '../clinic/kept.js';
import { hear, keepPage, quiet, saidAt } from '../clinic/tablet.js';
import { place, say } from './words.js';

const BATCH = 200, POLL = 1000, OUT = 10, POLL_ENDS = 10_000, RETRY = [1000, 2000, 4000, 8000];
const GROUPS = ['station_all_normal', 'station_rest_not_examined'];

export class Sync {
  /* says: what the corner shows; changed: redraw; refused(op, answer); asks(words, link): trouble. */
  constructor(model, queue, { says, changed, refused, trouble }) {
    Object.assign(this, { model, queue, says, changed, refused, trouble });
    this.state = 'kept'; this.started = false; this.saidOfStorage = ''; this.heardAt = 0; this.busy = false; this.tries = 0; this.sends = 0; this.token = '';
    this.refusedBefore = new Map(); /* a refused tap's key to what it followed: its own followers are not stale by it */
    addEventListener('online', () => { this.tries = 0; this.send(); });
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.send(); });
    document.addEventListener('handed-over', event => this.handedOver(event.detail));
    setInterval(() => this.poll(), POLL);
  }

  /* `at`: when the server made this page, in its ms. Opened without a network, the page is older than what was
     acknowledged on it since. */
  async start(at) {
    const stood = await this.queue.stood(), waiting = await this.queue.all();
    if (stood && stood.at > at) this.model.take(stood.state);
    this.model.pending.push(...waiting);
    this.model.rebuild();
    this.started = true;
    this.say();
    this.tellStorage();
    this.heardAt = Math.max(at, stood?.at ?? 0);
    const kept = navigator.serviceWorker?.controller ? quiet() : keepPage(location.pathname); /* this page came before the worker did */
    kept.then(() => this.stands(this.heardAt));
    this.changed();
    this.send();
  }

  add(op) {
    if (op.what !== 'take_back') op.undo = true;
    op.said = this.words(op);
    this.model.pending.push(op);
    const before = this.model.put(op);
    if (op.what !== 'take_back' && before.length) this.model.past.push({ key: op.key, target: op.target, before, bundle: op.bundle });
    this.changed(op.target);
    this.say();
    op.kept = this.keep(op);
    queueMicrotask(() => this.send());
    return op;
  }

  /* What was tapped in words, for pages that do not know the walk. */
  words(op) {
    if (op.what === 'say') return `Said: ${op.payload.text}`;
    const [line] = this.model.linesOf(op.target), [answer] = this.model.effect(op).answers.values();
    if (!line) return `${this.model.stations.get(op.target)?.title ?? 'The exam'}: ${op.what.replaceAll('_', ' ')}`;
    return `${place(line)}: ${answer ? say(this.model, answer) : op.what === 'note' ? op.payload.text : 'taken back'}`;
  }
  async keep(op) {
    try { op.n = await this.queue.keep(strip(op)); } catch { op.lost = true; }
    this.tellStorage();
  }
  stands(at) { this.queue.stands(this.model.server, at).catch(() => {}).then(() => this.tellStorage()); }
  /* Said until the tablet keeps again what is tapped, and whatever it could not keep has reached the server. */
  tellStorage() {
    const words = this.queue.broken || (this.model.pending.some(op => op.lost) ? this.saidOfStorage : '');
    if (words === this.saidOfStorage) return;
    this.saidOfStorage = words;
    this.trouble('storage', words);
  }

  takeBack() {
    const last = this.model.past.pop();
    if (!last) return null;
    const op = this.model.make(last.target, 'take_back', { operation: last.key });
    op.before = last.before;
    this.add(op);
    if (last.bundle && this.model.past.at(-1)?.bundle === last.bundle) return this.takeBack(); /* one tap, taken back at once */
    return last.target;
  }

  say() {
    if (!this.started) return; /* nobody knows yet what waits from before */
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
      if (answer) await this.settle(batch, answer, this.heardAt);
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
      const asked = this.heard(await fetch(urls.token, { headers: { Accept: 'application/json' } }));
      if (asked.status === 401) return this.signedOut();
      if (!asked.ok) throw new Error(String(asked.status));
      this.token = (await asked.json()).token;
    }
    const operations = batch.map(asSent);
    const answer = this.heard(await fetch(urls.send, {
      method: 'POST', body: JSON.stringify({ operations, knows: this.model.server.pulse }),
      headers: { 'Content-Type': 'application/json', Accept: 'application/json', 'X-CSRFToken': this.token },
    }));
    if (answer.status === 401) return this.signedOut();
    if (answer.status === 403 && !fresh) return this.post(batch, true);
    if (!answer.ok) throw new Error(String(answer.status));
    this.sends += 1;
    return answer.json();
  }

  /* Every answer says who works on this tablet now, perhaps handed over in another tab. */
  heard(answer) {
    const grant = hear(answer);
    this.heardAt = saidAt(answer);
    if (grant && grant !== this.model.data.me.grant) this.handedOver({ grant });
    return answer;
  }

  async settle(batch, { answers, state }, at) {
    const byKey = new Map(answers.map(a => [a.key, a])), gone = [], refusals = [];
    for (const op of batch) {
      const answer = byKey.get(op.key);
      if (!answer || answer.reason === 'grant') continue;
      gone.push(op);
      if (answer.result !== 'accepted') refusals.push([op, answer]);
    }
    this.model.pending = this.model.pending.filter(op => !gone.includes(op));
    this.model.past = this.model.past.filter(p => !refusals.some(([op]) => op.key === p.key));
    this.model.take(state);
    const asks = refusals.filter(([op, answer]) => this.isToChoose(op, answer)).map(([op]) => op);
    await this.queue.drop(gone.filter(op => !asks.includes(op)), this.model.server, at).catch(() => {}); /* a tap sent twice is answered as before */
    this.tellStorage();
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

  /* Two values to choose from: the refused one stays on the tablet until somebody chose, also over a reload. */
  isToChoose(op, { reason, same, version = '' }) {
    const follows = this.refusedBefore.has(op.follows) && this.refusedBefore.get(op.follows) === version;
    return reason === 'stale' && !same && !follows && !GROUPS.includes(op.what) && this.model.linesOf(op.target).length > 0;
  }
  chosen(op) { this.queue.drop([op], this.model.server, this.heardAt).catch(() => {}); } /* asked again when it opens again */

  signedOut() {
    this.state = 'signed-out';
    this.token = '';
    this.trouble('signed-out', 'You are signed out. What you tapped is kept on this tablet and is sent when you have signed in.', this.model.data.urls.login);
    this.later();
    return null;
  }

  async poll() {
    if (document.hidden || this.busy || this.polling || this.model.pending.length) return;
    if (this.state === 'signed-out' && (this.asks = ((this.asks ?? 0) + 1) % OUT)) return; /* a tablet left signed out asks now and then whether it still is */
    const sends = this.sends;
    this.polling = true; /* a slow server is asked once, not once a second more */
    try {
      const answer = this.heard(await fetch(this.model.data.urls.state, { signal: AbortSignal.timeout(POLL_ENDS), headers: { Accept: 'application/json', 'Tailward-Poll': '1', 'If-None-Match': `"${this.model.server.pulse}"` } }));
      if (this.state === 'offline') { this.state = 'kept'; this.say(); }
      if (answer.headers.get('Tailward-Here')) dispatchEvent(new CustomEvent('others-here', { detail: answer.headers.get('Tailward-Here') }));
      if (answer.headers.get('Tailward-Locked')) return document.dispatchEvent(new CustomEvent('tablet-locked'));
      if (answer.status === 401) return this.signedOut();
      if (this.state === 'signed-out' && (answer.ok || answer.status === 304)) { this.state = 'kept'; this.trouble('signed-out', ''); this.say(); }
      if (answer.status !== 200) return;
      const state = await answer.json();
      if (sends !== this.sends || this.model.pending.length) return; /* older than what was sent meanwhile */
      const at = this.heardAt;
      const signed = state.signed && !this.model.server.signed;
      this.model.take(state);
      this.stands(at);
      this.changed();
      if (signed) this.trouble('signed', 'The record was signed. Nothing changes here any more; reload to see it as signed.', location.pathname);
    } catch {
      this.state = 'offline';
      this.say();
    } finally {
      this.polling = false;
    }
  }

  async handedOver({ grant, name = this.model.data.me.name }) {
    Object.assign(this.model.data.me, { grant, name });
    try {
      const answer = await fetch(this.model.data.urls.token, { headers: { Accept: 'application/json' } });
      if (answer.ok) {
        const told = await answer.json();
        this.token = told.token;
        Object.assign(this.model.data.me, told.me);
        for (const place of document.querySelectorAll('[data-works-here]')) place.textContent = this.model.data.me.name;
      }
    } catch { /* the server asks for rights again with every tap */ }
    keepPage(location.pathname).then(() => this.stands(this.heardAt)); /* what was kept for whoever worked before is gone */
    this.changed();
  }
}
const strip = ({ kept, n, lost, ...op }) => op;
