/* Lumps: each known one at its place with its last size, and new ones put on the map. Under the line of lumps at
   the skin; at every other station those that lie where its hands come by. */

import { $, $$, button, el, lower, shape, upper, write } from './dom.js';
import { LUMP, looksOf, placeNow } from './lump-model.js';

const HOME = 'SKN', LINE = 'SKN.lumps';
const ENDED = ['gone', 'merged'];
const DRAFTS = 'tailward-lumps';
const STAYS = ['lump_place', 'lump_sample']; /* taps that leave a typed size as it was */

export class Lumps {
  constructor(app) {
    Object.assign(this, { app, open: new Set(), known: app.data.lumps.known });
    this.where = el('div', { class: 'lump-where' });
    this.drafts = {};
    try { this.drafts = JSON.parse(localStorage.getItem(this.draftKey) ?? '{}'); } catch { /* a browser that keeps nothing */ }
  }
  get draftKey() { return `${DRAFTS}:${this.app.data.visit}`; }
  /* What is typed of a lump outlives its card, the station and the page, until it is kept. */
  hold(id, draft) {
    if (!draft && !this.drafts[id]) return;
    if (draft) this.drafts[id] = draft; else delete this.drafts[id];
    try { if (Object.keys(this.drafts).length) localStorage.setItem(this.draftKey, JSON.stringify(this.drafts)); else localStorage.removeItem(this.draftKey); } catch { /* as above */ }
  }
  typed(id) { const draft = this.drafts[id]; return draft ? `${draft.axes.filter(Boolean).join(' × ')}${draft.axes.some(Boolean) ? ' mm, ' : 'size '}not kept yet` : ''; }
  unkept(code) { return (code === HOME ? this.all() : this.at(code)).filter(id => this.drafts[id]); }
  unkeptWords() { return [...this.unkept(HOME).map(id => `${upper(this.name(id))}: ${this.typed(id)}`), ...(this.map?.asks ? ['A lump’s place: chosen, not kept yet'] : [])].join('; '); }
  get model() { return this.app.model; }
  get may() { return this.app.data.me.observes; }

  /* ---- Which there are ---- */

  /* By number, new ones last. Ended ones of earlier exams stay out unless something was said of them today. */
  all() {
    const known = Object.keys(this.known).filter(id => !this.known[id].gone || this.model.lumps.has(id));
    const fresh = [...this.model.lumps.keys()].filter(id => !this.known[id]);
    return [...known, ...fresh].sort((a, b) => (this.number(a) || 999) - (this.number(b) || 999));
  }
  gone() { return Object.keys(this.known).filter(id => this.known[id].gone && !this.model.lumps.has(id)); }
  /* Those still on the animal. */
  here() { return this.all().filter(id => !ENDED.includes(this.model.lumps.get(id)?.said)); }
  at(code) { return this.all().filter(id => this.station(id) === code); }
  station(id) { const place = placeNow(this.model, id); return (/eyelid$/.test(place?.detail ?? '') && 'EYE') || (/^(lip|inside the mouth)$/.test(place?.detail ?? '') && 'MTH') || this.app.data.lumps.stations[place?.region] || ''; }
  number(id) { return this.known[id]?.number ?? this.model.lumps.get(id)?.number ?? 0; }
  badge(id) { return String(this.number(id) || 'new'); }
  name(id) { return this.number(id) ? `lump ${this.number(id)}` : 'the new lump'; }
  place(id) {
    const place = placeNow(this.model, id), plain = this.app.data.lumps.regions[place?.drawing]?.[place.region]?.[0] ?? '';
    const side = place && place.side && !plain.includes(place.side) ? `, ${place.side === 'midline' ? 'in the middle' : `${place.side} of the middle`}` : '';
    return [plain + side, place?.detail].filter(Boolean).join(', ');
  }
  /* What a full walk still asks: known lumps without a word today, and new ones without a size. */
  left() { return this.all().filter(id => !this.model.lumps.get(id)?.said); }
  fresh() { return this.left().filter(id => !this.known[id]); }
  leftWords() {
    const left = this.left().filter(id => !this.drafts[id]), names = left.map(id => this.name(id)).join(', ');
    return left.length && (this.model.kind === 'full' || left.some(id => !this.known[id])) ? `${upper(names)}: measured, gone or not looked at?` : '';
  }

  /* ---- At the stations ---- */

  draw(root, code) {
    const ids = code === HOME ? this.all() : this.at(code);
    let box = $('.lumps', root);
    if (!box && (code === HOME || ids.length)) {
      box = el('section', { class: 'lumps', 'aria-label': 'Lumps' }, el('ol', { class: 'lump-list' }));
      if (code === HOME) {
        box.append(this.foot(), this.where);
        $(`.line[data-structure="${LINE}"]`, root)?.append(box);
      } else $('.lines', root).before(box);
    }
    if (!box) return;
    box.hidden = code !== HOME && !ids.length;
    const list = $('.lump-list', box), cards = new Map($$(':scope > li', list).map(li => [li.dataset.lump, li]));
    for (const [id, li] of cards) if (!ids.includes(id)) li.remove();
    ids.forEach((id, i) => {
      const li = cards.get(id) ?? el('li', { class: 'lump', data: { lump: id } });
      if (list.children[i] !== li) list.insertBefore(li, list.children[i] ?? null);
      this.card(li, id);
    });
    if (code === HOME) this.sayFoot(box);
  }
  foot() {
    this.put = button('Put a lump on the map', () => this.openMap(), 'lump-put');
    const other = button('something else than a lump to follow', () => this.other(), 'button-plain');
    this.past = el('p', { class: 'small quiet' });
    return el('div', { class: 'lump-foot' }, this.put, other, this.past);
  }
  sayFoot(box) {
    const old = this.gone();
    $('.lump-foot', box).toggleAttribute('inert', !this.may);
    this.past.replaceChildren(...old.flatMap((id, i) => [i ? '; ' : 'No longer there: ', `lump ${this.number(id)}, ${this.place(id)}, ${this.known[id].gone_words} `, button('there again', () => this.begin(id), 'button-plain')]));
  }
  /* Abnormal on the line of lumps: the map goes first. */
  wanted() { this.app.open(HOME, 'nearest'); this.openMap(); }
  /* The map comes later than the page; without it a lump has no place to be put. */
  async openMap(moving = '') {
    try { await Promise.all([this.app.later.fetch('map'), this.app.later.fetch('lump')]); } catch {
      this.where.replaceChildren(el('p', { class: 'notice notice-look' }, shape('flag'), el('span', {}, 'The body map did not arrive over the network. Nothing was changed; try again when the network is back.')));
      return;
    }
    if (!this.map) {
      const { BodyMap } = this.app.later.part('map');
      this.map = new BodyMap(this.app, { places: id => this.begin(id), chooses: id => this.begin(id), closes: () => this.app.refresh() });
    }
    if (!this.map.root.isConnected) this.where.replaceChildren(this.map.root);
    this.map.open(moving);
  }
  other() {
    const line = this.model.lines.get(`${LINE}|-`), before = this.model.stored(line);
    this.app.sync.add(this.model.make(line.key, 'set_abnormal', { findings: before?.status === 'abnormal' ? (before.findings ?? []).filter(f => !f.from_lumps) : [] }));
    this.app.panels.open(line.key, 'abnormal');
  }
  /* Open one lump where somebody can measure it. */
  begin(id) {
    this.open.add(id);
    const here = document.querySelector('.station[open]')?.id, code = this.at(here).includes(id) && here !== HOME ? here : HOME;
    if (this.known[id]?.gone) this.again = id;
    this.app.open(code, 'nearest');
    if (this.known[id]?.gone && !this.model.lumps.has(id)) this.reopen(id);
    this.app.refresh();
    const card = $(`#${code} [data-lump="${id}"]`);
    card?.scrollIntoView({ block: 'nearest' });
    $('.lump-axes input', card)?.focus({ preventScroll: true });
  }
  /* A lump that was gone is there again: its place is said anew, under its old number. */
  reopen(id) { const place = this.known[id].place; this.send(id, 'lump_place', place); }

  /* ---- One lump ---- */

  send(id, what, payload) { this.wrong(id, ''); if (!STAYS.includes(what)) this.hold(id); this.app.sync.add(this.model.make(LUMP + id, what, payload)); }
  wrong(id, words, ...more) { for (const place of $$(`[data-lump="${id}"] .lump-wrong`)) place.replaceChildren(words, ...more); }

  stateOf(id, open) { return JSON.stringify([this.model.lumps.get(id), open, this.number(id), this.may, this.drafts[id]]); }
  card(li, id) {
    const today = this.model.lumps.get(id), known = this.known[id];
    const open = this.open.has(id) || Boolean(today && !today.said);
    const state = this.stateOf(id, open);
    if (li.dataset.shows) { $('.lump-badge', li).textContent = this.badge(id); write($('.lump-unkept', li), this.typed(id)); } /* its number comes while somebody types */
    if (li.dataset.shows === state || (li.dataset.shows && li.contains(document.activeElement) && document.activeElement.matches('input[type=text], textarea, select') && li.dataset.open === String(open) && !this.settled(li, today))) return;
    const focus = li.contains(document.activeElement) ? document.activeElement.dataset.keep : '';
    Object.assign(li.dataset, { shows: state, open: String(open), said: today?.said ?? '', operation: today?.operation ?? '' });
    li.dataset.state = today?.said === 'measured' ? 'abnormal' : today?.said ? 'unseen' : 'new';
    const toggle = button(open ? 'close' : today?.said ? 'change' : 'measure', () => { if (open && today?.said) this.open.delete(id); else this.open.add(id); if (open && !today?.said) this.open.delete(id); this.card(li, id); if (!open) $('.lump-axes input', li)?.focus(); }, open ? 'button-plain' : '');
    toggle.setAttribute('aria-expanded', String(open));
    toggle.append(el('span', { class: 'vh' }, ` ${this.name(id)}`));
    const head = el('div', { class: 'lump-head' }, el('b', { class: 'lump-badge' }, this.badge(id)),
      el('div', { class: 'lump-who' }, el('p', {}, el('b', {}, upper(this.place(id))), today?.place?.depth || known?.place.depth ? `, ${today?.place?.depth || known.place.depth}` : ''),
        el('p', { class: 'small quiet' }, known ? known.words : today?.first_seen ? `First seen ${today.first_seen}${today.first_words ? `, ${today.first_words}` : ''}.` : 'New today.'),
        ...(known?.samples ?? []).map(words => el('p', { class: 'small' }, words)), el('p', { class: 'lump-unkept small is-look' }, this.typed(id))),
      this.now(id, today), open && !today?.said && !known ? null : toggle);
    li.replaceChildren(head, el('p', { class: 'field-error small lump-wrong', role: 'status' }), open ? this.body(id, today, known) : '');
    $('.lump-body', li)?.toggleAttribute('inert', !this.may);
    if (focus) $(`[data-keep="${CSS.escape(focus)}"]`, li)?.focus();
  }
  /* What the card shows is from another tap than the one that stands. */
  settled(li, today) { return today?.operation && li.dataset.operation && today.operation !== li.dataset.operation; }

  now(id, today) {
    if (!today?.said) return el('p', { class: 'lump-now small' }, el('span', { class: 'mark is-unseen' }, shape('new', true), el('span', {}, this.known[id] ? 'still there?' : 'how large?')));
    const words = { measured: () => sizeWords(today.axes_mm), gone: () => [this.app.data.lumps.gone_how[today.how], today.words].filter(Boolean).join(', '), merged: () => `grown together with ${this.name(today.into)}`,
      'not-looked': () => `not looked at: ${[this.model.reasons.get(today.reason)?.words, today.words].filter(Boolean).join(', ')}` }[today.said]();
    const mark = today.said === 'measured' ? ['abnormal', 'is-look'] : ['unseen', 'is-unseen'];
    return el('div', { class: 'lump-now small' }, el('p', {}, el('span', { class: `mark ${mark[1]}` }, shape(mark[0]), el('span', {}, el('b', {}, words), today.reordered ? ' (put longest first)' : '', today.sample && today.said === 'measured' ? `, ${this.app.data.lumps.samples[today.sample] ?? today.sample} today` : ''))),
      today.grown ? el('p', {}, today.grown) : null,
      ...(today.asks ?? []).map(([rule, source]) => el('p', { class: 'lump-asks is-look' }, shape('flag'), el('span', {}, upper(rule), el('small', {}, ` ${source}`)))));
  }

  /* The form comes later than the page, as the map does. */
  body(id, today, known) {
    const form = this.app.later.part('lump');
    if (form) return form.body(id, today, known);
    const wait = el('p', { class: 'small quiet' }, 'The form is coming.');
    this.app.later.fetch('lump').then(
      () => { for (const li of $$('.lump')) if (li.contains(wait)) { li.dataset.shows = '-'; this.card(li, id); } },
      () => { wait.replaceChildren('The form did not arrive over the network. ', button('Try again', () => wait.replaceWith(this.body(id, today, known)))); });
    return wait;
  }

  /* ---- What the server refused ---- */

  refused(op, answer) {
    const id = op.target.slice(LUMP.length);
    if (answer.reason === 'stale') return this.clash(id, op, answer);
    if (!this.all().includes(id)) return false;
    this.open.add(id);
    if (op.what === 'lump_measure') this.hold(id, { axes: op.payload.axes.map(String), method: op.payload.method, looks: looksOf(op.payload.looks) });
    this.app.refresh();
    const more = answer.reason === 'ask-once' ? [' ', button('Yes, I looked twice', () => this.send(id, op.what, { ...op.payload, looked_twice: true }), 'button-plain')] : [];
    this.wrong(id, `Not saved: ${answer.words}`, ...more);
    return true;
  }
  clash(id, op, answer) {
    const theirs = answer.theirs?.[op.target], who = this.model.server.people[theirs?.person] ?? 'Somebody else';
    const words = lump => (!lump ? 'taken back' : lump.said === 'measured' ? sizeWords(lump.axes_mm) : lump.said || 'at another place');
    const mine = op.what === 'lump_measure' ? sizeWords(op.payload.axes) : lower(op.what.replace('lump_', '').replace('_', ' '));
    const card = el('div', { class: 'notice notice-look clash', data: { clash: op.target } }, shape('flag'),
      el('div', {}, el('p', {}, el('b', {}, `${upper(this.name(id))}: somebody else changed this.`)), el('p', {}, `${who}: ${words(theirs)}`), el('p', {}, `You: ${mine}`)),
      el('div', { class: 'picks' }, button('Keep theirs', () => { card.remove(); this.app.refresh(); }), button('Keep mine', () => { card.remove(); this.send(id, op.what, op.payload); })));
    $(`[data-clash="${CSS.escape(op.target)}"]`)?.remove();
    $('#clashes').append(card);
    card.scrollIntoView({ block: 'nearest' });
    return true;
  }
}

export const sizeWords = axes => `${axes.join(' × ')} mm`;
