/* Photographs: shrunk and kept on the tablet at once, sent one by one, shown from the tablet meanwhile. */

import { done, openKept, within } from '../clinic/kept.js';
import { sendPhoto, tokenFor } from '../clinic/photo-send.js';
import { shrink } from '../clinic/shrink.js';
import { keepPage } from '../clinic/tablet.js';
import { $, $$, el, many, shape } from './dom.js';
import { deviceTime, uuid } from './model.js';

const RETRY = [2000, 4000, 8000, 16000];
const FULL = 'The storage of this tablet is full: this photograph is lost if the page is closed before it is saved.';
const NOT_KEPT = 'This tablet could not keep the photograph: it is lost if the page is closed before it is saved.';

/* The photographs of one line, tooth or lump, with the button that takes one. `target`: a line's key, or
   `lump:3`. `name` is what the button's label adds for those who do not see where it stands. */
export function photoStrip(app, target, name = '') {
  const wrong = el('p', { class: 'field-error small', role: 'status' });
  const input = el('input', { type: 'file', accept: 'image/*', capture: 'environment', 'aria-label': `Photograph${name ? `: ${name}` : ''}` });
  input.addEventListener('change', async () => {
    const [file] = input.files;
    if (!file) return;
    wrong.textContent = 'Making it smaller…';
    try { wrong.textContent = (await app.photos.add(target, file)) ?? ''; } catch (error) { wrong.textContent = error.message; }
    input.value = '';
  });
  const may = app.data.me.measures;
  const strip = el('div', { class: 'photos', data: { photos: target } },
    el('div', { class: 'photos-add' }, may ? el('label', { class: 'button' }, 'Photograph', input) : null, wrong),
    el('ul', { class: 'photo-row' }));
  app.photos.fill(strip);
  return strip;
}

export class Photos {
  /* `trouble(name, words, link)` says at the page's head what stands in the way; `says()` redraws the corner. */
  constructor(app, { trouble, says }) {
    Object.assign(this, { app, trouble, says });
    this.list = app.data.photos; /* on the server, the newest first */
    this.changes = app.data.state.photo_changes;
    this.waiting = []; /* on this tablet, of every visit, in the order they were taken */
    this.state = 'kept'; this.tries = 0; this.busy = false;
    addEventListener('online', () => { this.tries = 0; this.send(); });
    document.addEventListener('visibilitychange', () => { if (!document.hidden) this.send(); });
  }
  get model() { return this.app.model; }

  async start() {
    try {
      this.db = await openKept();
      this.waiting.unshift(...await done(this.db.transaction('photos').objectStore('photos').getAll()));
    } catch { /* sync.js says that this browser keeps nothing */ }
    this.draw();
    this.send();
  }

  /* ---- What there is ---- */

  /* On their way from this visit first, then the server's, the newest first. */
  of(target) {
    const mine = this.waiting.filter(p => p.visit === this.app.data.visit && p.target === target).reverse();
    return [...mine, ...this.list.filter(p => p.target === target && !mine.some(m => m.key === p.key))];
  }
  find(key) { return this.waiting.find(p => p.key === key) ?? this.list.find(p => p.key === key); }
  isWaiting(photo) { return this.waiting.includes(photo); }
  isHere(photo) { return photo.visit === this.app.data.visit; }
  small(photo) { return photo.blob ? this.local(photo) : photo.small; }
  large(photo) { return photo.blob ? this.local(photo) : photo.src; }
  local(photo) {
    this.urls ??= new Map();
    if (!this.urls.has(photo.key)) this.urls.set(photo.key, URL.createObjectURL(photo.blob));
    return this.urls.get(photo.key);
  }
  day(photo) { return this.isHere(photo) ? 'today' : new Date(`${photo.day}T12:00`).toLocaleDateString([], { day: 'numeric', month: 'short', year: 'numeric' }); }
  mark(photo) { return photo.refused ? 'not saved' : this.isWaiting(photo) ? 'waiting' : ''; }
  /* Words for the corner; empty when none waits. */
  words() { const n = this.waiting.filter(p => !p.refused).length; return n ? many(n, 'photograph') : ''; }

  /* ---- Taking one ---- */

  /* Answers a sentence when the tablet could not keep it. Throws when the file is no picture. */
  async add(target, file) {
    const { blob, width, height } = await shrink(file), { me, visit, urls } = this.app.data;
    const photo = { visit, key: uuid(), target, taken_at: deviceTime(), grant: me.grant, staff: me.staff, by: me.name, note: '', send: urls.photos, token: urls.token, blob, width, height };
    const wrong = await this.keep(photo);
    this.waiting.push(photo);
    this.app.say(wrong || 'Photograph kept.');
    this.draw();
    this.send();
    return wrong;
  }
  async keep(photo) {
    try {
      const n = await within(this.db, ['photos'], photos => photos.put({ ...photo }));
      photo.n = n;
      return '';
    } catch (error) { return error?.name === 'QuotaExceededError' ? FULL : NOT_KEPT; }
  }
  async drop(photo) {
    if (this.db && photo.n !== undefined) await within(this.db, ['photos'], photos => { photos.delete(photo.n); });
    this.waiting = this.waiting.filter(p => p !== photo);
  }

  /* ---- Sending ---- */

  next() { return this.waiting.find(p => !p.refused && !p.later); }
  async send() {
    if (this.busy || !this.next()) return this.says();
    this.busy = true;
    clearTimeout(this.again);
    let token = '', from = '';
    try {
      for (let photo = this.next(); photo; photo = this.next()) {
        if (!token || from !== photo.token) { token = await this.tokenOf(photo); from = photo.token; }
        if (!token) break;
        this.now = photo;
        if (!await this.post(photo, token)) break;
      }
    } catch { this.state = 'offline'; }
    this.now = null;
    for (const photo of this.waiting) delete photo.later;
    this.busy = false;
    if (this.came) { this.came = false; keepPage(location.pathname); } /* the page kept here names its photographs */
    if (this.next()) { this.again = setTimeout(() => this.send(), RETRY[Math.min(this.tries, RETRY.length - 1)]); this.tries += 1; } else this.tries = 0;
    this.draw();
    return this.says();
  }
  async tokenOf(photo) { return await tokenFor(photo) || this.signedOut(); }
  /* True: go on with the next one. */
  async post(photo, token) {
    const { became, told, words } = await sendPhoto(photo, token);
    if (became === 'signed-out') { this.signedOut(); return false; }
    this.state = 'kept';
    if (became === 'arrived') await this.arrived(photo, told);
    else if (became === 'refused') await this.refused(photo, words);
    else { photo.later = true; this.trouble('photos', `A photograph waits here. ${words}`, this.app.data.urls.login); }
    this.draw();
    return true;
  }
  async arrived(photo, told) {
    await this.drop(photo);
    this.came = true;
    this.trouble('photos', '');
    if (!this.isHere(photo)) return;
    told ??= { ...photo, n: undefined, at: photo.taken_at }; /* a locked tablet is told nothing */
    if (told.small) new Image().src = told.small; /* for when the page opens again without a network */
    this.list = [{ ...told, blob: photo.blob }, ...this.list.filter(p => p.key !== told.key)];
    if (photo.note !== told.note) await this.describe(this.list[0], { note: photo.note }); /* written while it was under way */
  }
  /* It stays here, and says why, until somebody keeps it as a file or discards it. */
  async refused(photo, words) {
    photo.refused = words;
    await this.keep(photo);
    this.app.say(`Photograph not saved. ${words}`);
  }
  signedOut() {
    this.state = 'signed-out';
    this.trouble('photos', 'You are signed out. The photographs are kept on this tablet and are sent when you have signed in.', this.app.data.urls.login);
    return '';
  }

  /* ---- What other tablets took ---- */

  /* After every answer of the server: it counts the changes of this exam's photographs. */
  async look() {
    const changes = this.model.server.photo_changes;
    if (changes === undefined || changes === this.changes || this.looking) return;
    this.looking = true;
    try {
      const answer = await fetch(this.app.data.urls.photos, { headers: { Accept: 'application/json' } });
      if (answer.ok) {
        const told = await answer.json(), before = new Map(this.list.map(p => [p.key, p.blob]));
        this.changes = told.changes;
        this.list = told.photos.map(p => ({ ...p, blob: before.get(p.key) }));
        this.draw();
      }
    } catch { /* asked again with the next answer */ } finally { this.looking = false; }
  }

  /* ---- Changing one: what it shows, and striking it out. Saved ones need the network. ---- */

  async describe(photo, changes) {
    if (this.isWaiting(photo)) { Object.assign(photo, changes); return this.keep(photo); }
    return this.tell(photo, 'describe', changes, () => Object.assign(photo, changes));
  }
  async strike(photo, reason) {
    if (this.now === photo) return 'It is being sent just now. Try again in a moment.';
    if (this.isWaiting(photo)) { await this.drop(photo); this.draw(); this.says(); return ''; }
    return this.tell(photo, 'strike', { reason }, () => { this.list = this.list.filter(p => p !== photo); });
  }
  /* Answers a sentence when it was not done. */
  async tell(photo, what, values, then) {
    try {
      const token = await this.tokenOf({ token: this.app.data.urls.token });
      if (!token) return 'You are signed out. Nothing was changed.';
      const answer = await fetch(`${this.app.data.urls.photos}${photo.key}/${what}/`, { method: 'POST', body: new URLSearchParams(values), headers: { Accept: 'application/json', 'X-CSRFToken': token } });
      if (answer.status === 422) return (await answer.json()).words;
      if (answer.status === 403) return 'Whoever took it may do that, or a clinician. Nothing was changed.';
      if (!answer.ok) return 'The server could not do that now. Nothing was changed.';
    } catch { return 'This needs the network. Nothing was changed.'; }
    then();
    this.draw();
    return '';
  }

  /* ---- Drawing ---- */

  async view(photo, list) {
    let module;
    try { module = await this.app.later.fetch('photo'); } catch {
      this.trouble('photo-view', 'The photograph could not be opened: that part of the page did not arrive over the network. Tap it again when the network is back.');
      return;
    }
    this.trouble('photo-view', '');
    module.viewPhoto(this.app, photo, list);
  }
  thumb(photo, list) {
    const mark = this.mark(photo), words = [this.day(photo), mark].filter(Boolean).join(', ');
    return el('li', {}, el('button', { type: 'button', class: 'photo-thumb', data: { key: photo.key }, 'aria-label': `Photograph${photo.note ? `: ${photo.note}` : ''}, ${words}`, on: { click: () => this.view(photo, list) } }, el('img', { src: this.small(photo), alt: '', width: photo.width, height: photo.height })),
      el('span', { class: `small ${photo.refused ? 'is-danger' : mark ? 'is-look' : 'quiet'}` }, mark ? el('span', { class: 'photo-mark' }, shape(photo.refused ? 'danger' : 'waiting'), words) : words),
      photo.refused ? el('span', { class: 'small is-danger' }, photo.refused) : null);
  }
  /* Only what changed is drawn anew, so that a finger or the focus on a picture stays where it is. */
  fill(strip, list = this.of(strip.dataset.photos)) {
    const row = $('.photo-row', strip), told = JSON.stringify(list.map(p => [p.key, this.mark(p), p.refused, p.note]));
    if (row.dataset.shows === told) return;
    row.dataset.shows = told;
    const held = row.contains(document.activeElement) ? document.activeElement.dataset.key : '';
    row.replaceChildren(...list.map(p => this.thumb(p, this.of(p.target))));
    row.hidden = !list.length;
    if (held) $(`[data-key="${CSS.escape(held)}"]`, row)?.focus();
  }
  draw() {
    for (const strip of $$('[data-photos]')) this.fill(strip);
    for (const station of $$('.station[open]')) this.drawLines(station);
  }
  /* At each line: today's, and the last earlier day's beside them. */
  drawLines(root) {
    if (!this.list.length && !this.waiting.length && !$('.photo-line', root)) return;
    for (const choice of $$('.choice[data-key], .choice[data-group]', root)) {
      const lines = choice.dataset.key ? [this.model.lines.get(choice.dataset.key)] : this.model.at(choice.dataset.group);
      const all = [...new Set(lines.map(line => line.stored_at[0]))].flatMap(target => this.of(target));
      const before = all.filter(p => !this.isHere(p)).reduce((day, p) => (p.day > day ? p.day : day), '');
      const shown = choice.dataset.inHand === undefined ? all.filter(p => this.isHere(p) || p.day === before) : [];
      let box = $('.photo-line', choice);
      if (!box && !shown.length) continue;
      if (!box) { box = el('div', { class: 'photo-line' }, el('ul', { class: 'photo-row' })); choice.append(box); }
      this.fill(box, shown);
    }
  }
}
