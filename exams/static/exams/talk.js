/* What is said aloud: lines go their way as taps do; what was heard in them stands here and at its station, dotted,
   until somebody confirms or discards it. Confirming is the tap that a finger makes, with the names of what it
   confirms (`heard`). The server hears; this page never guesses. */

import { tokenFor } from '../clinic/photo-send.js';
import { $, $$, button, el, lower, many, reshape, shape, write } from './dom.js';
import { plainEntry } from './finding.js';
import { uuid } from './model.js';
import { clock, say } from './words.js';

const KEPT = 'tailward-talk';
const NAMES = { en: 'English', es: 'Español' };
const GONE = ['heard-gone', 'heard-decided'];
const MOST = 4000; /* characters of a line */

export class Talk {
  constructor(app) {
    Object.assign(this, { app, told: app.data.talk, done: new Set(), open: new Set(), asked: new Map(), language: app.data.talk.languages[0] });
    this.box = $('#talk');
    this.field = $('#talk-words');
    if (!app.data.me.measures) { this.box.hidden = true; $('.talk-way').hidden = true; return; }
    try { this.field.value ||= localStorage.getItem(this.draftKey) ?? ''; this.language = localStorage.getItem(`${KEPT}-language`) ?? this.language; } catch { /* a browser that keeps nothing */ }
    this.field.addEventListener('input', () => this.keep(this.field.value));
    this.field.addEventListener('change', () => this.said()); /* left: what stands there was said */
    this.field.addEventListener('keydown', event => { if (event.key === 'Enter' && !event.shiftKey && !event.isComposing) { event.preventDefault(); this.said(); } });
    $('#talk-hear').disabled = false;
    $('#talk-hear').addEventListener('click', () => { this.said(); this.field.focus(); });
    $('#talk-go').addEventListener('click', () => this.show(true));
    this.choices();
    document.addEventListener('pointerdown', event => { this.pressed = Boolean(event.target.closest('.heard')); });
    for (const kind of ['pointerup', 'pointercancel']) document.addEventListener(kind, () => { if (this.pressed) setTimeout(() => { this.pressed = false; this.draw(); }); });
    if (location.hash === '#talk' || this.field.value) this.show(location.hash === '#talk');
    addEventListener('hashchange', () => { if (location.hash === '#talk') this.show(true); });
  }
  get model() { return this.app.model; }
  get draftKey() { return `${KEPT}:${this.app.data.visit}`; }

  show(focus) {
    this.box.open = true;
    if (focus) { this.box.scrollIntoView({ block: 'start' }); this.field.focus({ preventScroll: true }); }
  }
  keep(words) { try { if (words) localStorage.setItem(this.draftKey, words); else localStorage.removeItem(this.draftKey); } catch { /* as above */ } }

  /* ---- Saying ---- */

  said() {
    const text = this.field.value.trim(), wrong = $('#talk-wrong');
    write(wrong, text.length > MOST ? 'That is too long for one line: say it in several.' : '');
    if (!text || text.length > MOST) return;
    this.field.value = '';
    this.keep('');
    this.app.sync.add(this.model.make('talk', 'say', { text, language: this.language }));
  }
  choices() {
    const box = $('#talk-more'), { languages, records, keeps } = this.told;
    if (languages.length > 1) {
      const select = el('select', { 'aria-label': 'Spoken in' }, ...languages.map(code => el('option', { value: code }, NAMES[code] ?? code)));
      if (languages.includes(this.language)) select.value = this.language; else this.language = languages[0];
      select.addEventListener('change', () => { this.language = select.value; try { localStorage.setItem(`${KEPT}-language`, select.value); } catch { /* as above */ } });
      box.append(el('label', { class: 'talk-language small' }, el('span', {}, 'Spoken in'), select));
    }
    if (records) {
      const input = el('input', { type: 'file', accept: 'audio/*', capture: 'user', class: 'vh' });
      input.addEventListener('change', () => { if (input.files[0]) this.record(input.files[0]); input.value = ''; });
      box.append(el('label', { class: 'button talk-record' }, 'Recording', input));
    }
    if (keeps) {
      this.agrees = el('input', { type: 'checkbox' });
      this.agrees.checked = this.told.agreed;
      this.agrees.addEventListener('change', () => this.app.sync.add(this.model.make('talk', 'talk_agreed', { agrees: this.agrees.checked })));
      box.append(el('label', { class: 'pick pick-act' }, this.agrees, shape('normal'), el('span', {}, 'The owner agrees that the words are kept')));
    }
  }
  async record(file) {
    const wrong = $('#talk-wrong');
    try {
      const token = await tokenFor({ token: this.app.data.urls.token }), body = new FormData();
      body.append('sound', file); body.append('key', uuid()); body.append('language', this.language);
      const answer = await fetch(this.app.data.urls.recording, { method: 'POST', body, headers: { Accept: 'application/json', 'X-CSRFToken': token } });
      write(wrong, answer.ok ? 'Being listened to…' : (answer.status === 422 ? (await answer.json()).words : 'The recording was not taken in. Try again.'));
    } catch { write(wrong, 'A recording needs the network: it was not taken in.'); }
  }

  /* ---- What was heard ---- */

  items(code) {
    const busy = this.busy();
    return this.told.items.filter(i => !busy.has(i.id) && !this.done.has(i.id) && (code === undefined || i.station === code));
  }
  busy() { return new Set(this.model.pending.flatMap(op => [...(op.payload?.heard ?? []), op.payload?.item ?? []].flat())); }
  count(code) { return this.items(code).length; }
  leftWords() {
    const open = this.items();
    return open.length ? `${many(open.length, 'thing')} heard, not confirmed: ${[...new Set(open.map(i => this.place(i.station)))].join(', ')}` : '';
  }
  place(code) { return lower(this.model.stations.get(code)?.short ?? 'the plan'); }

  /* After every answer of the server, which counts the changes of what was said. */
  async look() {
    this.draw();
    if (this.looking || !this.isBehind()) return;
    this.looking = true;
    try {
      const answer = await fetch(this.app.data.urls.talk, { headers: { Accept: 'application/json' } });
      if (answer.ok) {
        const before = this.told.items.length;
        this.told = await answer.json();
        if (this.agrees && !this.model.pending.some(op => op.what === 'talk_agreed')) this.agrees.checked = this.told.agreed;
        if (!this.isBehind()) this.done = this.busy(); /* else it is older than what was tapped meanwhile, and asked again */
        const news = this.items().length - before;
        if (news > 0) this.app.say(`${many(news, 'thing')} heard.`);
        this.looking = false;
        this.app.refresh(); /* looks again where it is still behind */
      }
    } catch { /* asked again with the next answer */ } finally { this.looking = false; }
  }
  isBehind() { return (this.model.server.talk_changes ?? 0) > this.told.changes; }

  /* Answers whether nothing else has to be said of it. */
  refused(op, answer) {
    const meant = [...(op.payload?.heard ?? []), op.payload?.item].filter(Boolean);
    for (const id of meant) this.done.delete(id);
    if (op.payload?.heard && !['stale', 'grant'].includes(answer.reason) && this.told.items.some(i => meant.includes(i.id)) && !GONE.includes(answer.reason)) {
      const more = answer.reason === 'ask-once' ? { looked_twice: true } : this.app.sure.includes(answer.reason) ? { sure: true } : null;
      for (const id of meant) this.asked.set(id, { op, more, words: more ? `Not saved yet. ${answer.words}` : `Not saved: ${answer.words}` });
      this.app.say(answer.words);
      this.draw();
      return true;
    }
    if (!['say', 'unsay', 'discard_heard', 'talk_agreed', 'plan_heard'].includes(op.what) && !GONE.includes(answer.reason)) return false;
    if (op.what === 'say' && !this.field.value) { this.field.value = op.payload.text; this.keep(op.payload.text); } /* nothing said is lost */
    if (answer.reason !== 'heard-decided') { write($('#talk-wrong'), `Not saved: ${answer.words}`); this.show(false); }
    this.app.say(answer.words);
    return true;
  }

  send(item, tap, bundle, more = {}) {
    if (this.done.has(item.id)) return; /* a double tap */
    this.asked.delete(item.id);
    const op = this.model.make(tap.target, tap.what, { ...this.merged(tap), heard: [item.id], ...more });
    if (bundle) op.bundle = bundle;
    this.done.add(item.id);
    this.app.sync.add(op);
  }
  /* Beside what stands on the line already, as a second descriptor does; each side of a pair beside its own. */
  merged({ target, what, payload }) {
    const lines = what === 'set_abnormal' ? this.model.linesOf(target) : [];
    if (lines.length < 2) return lines.length ? this.beside(lines[0], payload) : payload;
    return { ...payload, ...Object.fromEntries(lines.map(line => [line.side, this.beside(line, payload)])) };
  }
  beside(line, payload) {
    const { findings = [], in_part: part, reason, reason_words: words } = this.model.answers.get(line.stored_at[0]) ?? {};
    const same = (a, b) => a.code === b.code && (a.tooth ?? '') === (b.tooth ?? '');
    const fresh = payload.findings.map(f => ({ ...(findings.filter(s => same(s, f)).map(plainEntry)[0] ?? {}), ...f }));
    return { ...payload, ...(part ? { in_part: { reason, words } } : {}), findings: [...findings.filter(s => !s.from_lumps && !fresh.some(f => same(s, f))).map(plainEntry), ...fresh] };
  }
  discard(item) {
    if (this.done.has(item.id)) return;
    this.done.add(item.id);
    this.asked.delete(item.id);
    this.app.sync.add(this.model.make('talk', 'discard_heard', { item: item.id }));
    this.app.say('Discarded.');
  }
  /* A station's normals, one tap: each by the words that named it. What stands otherwise is asked by itself. */
  confirmAll(items, code) {
    if (this.model.openFlags(code).length) { this.app.open(code); this.app.say('Answer the heads-up first.'); write($('#talk-wrong'), `${this.model.stations.get(code).short}: answer the heads-up first.`); return; }
    const bundle = uuid();
    for (const item of items) this.send(item, item.taps[0], bundle);
    this.app.say(`${many(items.length, 'normal')} confirmed.`);
  }
  isPlain(item) {
    const stands = item.keys.map(key => this.model.answers.get(key)).filter(Boolean);
    return item.kind === 'line' && item.state === 'normal' && item.taps.length === 1 && !stands.length && !this.asked.has(item.id);
  }

  /* ---- Drawing ---- */

  draw() {
    if (this.box.hidden) return;
    const items = this.items(), waiting = this.model.pending.filter(op => op.what === 'say');
    const codes = [...this.app.codes.filter(code => items.some(i => i.station === code)), ...(items.some(i => !this.model.stations.has(i.station)) ? [''] : [])];
    const words = items.length ? `${many(items.length, 'thing')} heard` : this.told.lines.length ? 'all answered' : '';
    write($('#talk-count'), words);
    this.box.dataset.open = items.length ? 'heard' : '';
    write($('#talk-go span'), items.length ? `Talk: ${items.length} heard` : 'Talk');
    this.fill($('#talk-heard'), codes.map(code => [code, items.filter(i => (this.model.stations.has(i.station) ? i.station : '') === code)]), true);
    this.drawLines(waiting);
    for (const station of $$('.station[open]')) this.drawAt(station, station.id);
  }
  drawAt(root, code) {
    const box = $('.heard-here', root);
    if (box) this.fill(box, this.count(code) ? [[code, this.items(code)]] : [], false);
  }
  fill(box, groups, titled) {
    if (this.pressed) return; /* nothing moves under a finger; drawn when it lifts */
    const held = box.contains(document.activeElement) ? document.activeElement.dataset.focus : '';
    const before = new Map([...box.children].map(each => [each.dataset.heard, each]));
    const made = groups.map(([code, items]) => {
      const shows = this.shows(code, items), stood = before.get(code || 'plan');
      return stood?.shows === shows ? stood : Object.assign(this.group(code, items, titled), { shows });
    });
    if (made.length === box.children.length && made.every((each, i) => each === box.children[i])) return;
    const same = new Set(made);
    for (const each of before.values()) if (!same.has(each)) each.remove();
    made.forEach((each, i) => { if (box.children[i] !== each) box.insertBefore(each, box.children[i] ?? null); });
    if (held && !box.contains(document.activeElement)) ($(`[data-focus="${CSS.escape(held)}"]`, box) ?? $('button', box))?.focus({ preventScroll: true });
  }
  shows(code, items) {
    const rows = items.map(i => [i.id, i.words, i.spans, this.asked.get(i.id)?.words, this.open.has(i.id), this.isPlain(i), i.taps.map(t => t.group && this.open.has(`g-${i.id}-${t.group}`)), i.keys.map(k => { const a = this.model.answers.get(k); return a && say(this.model, a); })]);
    return JSON.stringify([rows, this.open.has(`n-${code}`), this.app.data.me.role]);
  }
  group(code, items, titled) {
    const plain = items.filter(i => this.isPlain(i)), others = items.filter(i => !plain.includes(i));
    const name = this.model.stations.get(code)?.short ?? 'The plan';
    const head = titled && code ? button(name, () => this.app.open(code), 'button-plain heard-place') : el('b', { class: 'heard-place' }, titled ? name : 'Heard, not confirmed');
    const all = plain.length ? button('', () => this.confirmAll(plain, code), 'button-main heard-all') : null;
    if (all) { all.dataset.focus = `all-${code}`; all.append(`Confirm ${plain.length} normal`, el('span', { class: 'vh' }, `: ${name}`)); all.disabled = !this.app.data.me.observes; }
    const each = button(this.open.has(`n-${code}`) ? 'fewer' : 'one by one', () => { this.flip(`n-${code}`); }, 'button-plain');
    each.dataset.focus = `each-${code}`;
    each.append(el('span', { class: 'vh' }, `: ${name}, normal`));
    each.setAttribute('aria-expanded', String(this.open.has(`n-${code}`)));
    const names = this.names(plain).join('; ');
    return el('section', { class: 'heard', data: { heard: code || 'plan' }, 'aria-label': `Heard: ${name}` },
      el('div', { class: 'heard-head' }, el('span', { class: 'mark' }, shape('heard'), head), all),
      plain.length ? el('p', { class: 'heard-normals small' }, `Normal as said: ${names}. `, each) : null,
      this.open.has(`n-${code}`) ? el('ul', { class: 'heard-list' }, ...plain.map(i => this.row(i))) : null,
      others.length ? el('ul', { class: 'heard-list' }, ...others.map(i => this.row(i))) : null);
  }
  /* Both sides together, one side by name. */
  names(plain) {
    const of = new Map();
    for (const { words } of plain) { const [name, side] = words.replace(/: normal$/, '').split(/, (?=left$|right$)/); of.set(name, [...(of.get(name) ?? []), side].filter(Boolean)); }
    return [...of].map(([name, sides]) => `${lower(name)}${sides.length === 1 ? `, ${sides[0]}` : ''}`);
  }
  flip(name) { if (this.open.has(name)) this.open.delete(name); else this.open.add(name); this.draw(); }

  row(item) {
    const shown = this.open.has(item.id), { me } = this.app.data;
    const words = button('', () => this.flip(item.id), 'button-plain heard-words');
    words.append(shape(item.kind === 'question' ? 'flag' : 'heard'), el('span', {}, item.words));
    words.setAttribute('aria-expanded', String(shown));
    words.dataset.focus = `words-${item.id}`;
    const may = item.taps.every(t => (t.what === 'measure' || t.what === 'pin_heads_up' ? me.measures : t.what === 'plan_heard' ? me.assesses : me.observes));
    const groups = [...new Set(item.taps.map(t => t.group).filter(Boolean))], picked = groups.find(g => this.open.has(`g-${item.id}-${g}`));
    const wider = groups.map((group, i) => {
      const one = button(group, () => { for (const g of groups) this.open.delete(`g-${item.id}-${g}`); if (group !== picked) this.open.add(`g-${item.id}-${group}`); this.draw(); }, '');
      one.append(el('span', { class: 'vh' }, `: ${item.words}`));
      one.setAttribute('aria-expanded', String(group === picked));
      one.disabled = !may;
      one.dataset.focus = `wide-${item.id}-${i}`;
      return one;
    });
    const taps = item.taps.map((tap, i) => {
      if ((tap.group && tap.group !== picked) || (this.asked.get(item.id)?.more && item.taps.length === 1)) return null; /* its yes stands with the question */
      const one = button(tap.words.replace(` ${tap.group} `, ' ') || 'Confirm', () => { this.send(item, tap); this.app.say('Confirmed.'); }, i ? '' : 'heard-yes');
      one.append(el('span', { class: 'vh' }, `: ${item.words}`));
      one.disabled = !may;
      one.dataset.focus = `yes-${item.id}-${i}`;
      return one;
    });
    const no = button('Discard', () => this.discard(item), 'button-plain');
    no.append(el('span', { class: 'vh' }, `: ${item.words}`));
    no.dataset.focus = `no-${item.id}`;
    no.disabled = !me.observes;
    const there = this.model.stations.has(item.station) && (!item.taps.length || (this.asked.has(item.id) && !this.asked.get(item.id).more)) ? button('Go there', () => this.goTo(item), '') : null;
    const stands = item.keys.map(key => this.model.answers.get(key)).find(Boolean);
    return el('li', { class: item.taps.length > 2 ? 'heard-item is-wide' : 'heard-item', data: { item: item.id, kind: item.kind } },
      el('div', { class: 'heard-say' }, words,
        item.kind !== 'question' && stands ? el('small', { class: 'is-look' }, `Stands now: ${say(this.model, stands)}`) : null,
        item.lacks ? el('small', {}, item.lacks) : null,
        this.question(item, may),
        item.taps.length > 1 ? el('small', {}, item.kind === 'plan' ? 'Into the plan as:' : 'Which?') : null),
      el('div', { class: 'heard-taps' }, ...(groups.length ? wider : taps), there, no),
      picked ? el('div', { class: 'heard-taps heard-which', role: 'group', 'aria-label': `Which, ${picked}?` }, ...taps) : null,
      shown ? this.why(item) : null);
  }
  /* What the server answered to the tap, beside what was tapped: a question is answered here too. */
  question(item, may) {
    const asked = this.asked.get(item.id);
    if (!asked) return null;
    const told = el('p', { class: 'field-error small', role: 'status' }, asked.words);
    if (!asked.more) return told;
    const { target, what, payload } = asked.op, yes = button(asked.more.sure ? 'Yes, it is so' : 'Yes, I looked twice', () => { this.send(item, { target, what, payload }, undefined, asked.more); this.app.say('Confirmed.'); }, '');
    yes.append(el('span', { class: 'vh' }, `: ${item.words}`));
    yes.disabled = !may;
    yes.dataset.focus = `sure-${item.id}`;
    return el('div', {}, told, yes);
  }
  goTo(item) {
    this.app.open(item.station);
    const line = [...this.model.lines.values()].find(x => item.keys.includes(x.stored_at[0]));
    const choice = line && $(`.choice[data-key="${CSS.escape(line.key)}"]`);
    if (choice) { choice.scrollIntoView({ block: 'center' }); $('input, button', choice)?.focus({ preventScroll: true }); }
  }
  /* The words it stands on, in their line. */
  why(item) {
    const by = new Map();
    for (const [line, start, end] of item.spans) by.set(line, [...(by.get(line) ?? []), [start, end]]);
    const quotes = this.told.lines.filter(line => by.has(line.id)).map(line => el('blockquote', {}, ...marked(line.text, by.get(line.id))));
    return el('div', { class: 'heard-why' }, ...quotes, el('p', { class: 'small' }, `Why: ${item.reason || 'its words were deleted'}${item.sure ? '' : '; not sure'}.`));
  }

  drawLines(waiting) {
    const list = $('#talk-lines'), { me } = this.app.data, gone = new Set(this.model.pending.filter(op => op.what === 'unsay').map(op => op.payload.line));
    const lines = this.told.lines.filter(line => !gone.has(line.id)), failed = this.told.recordings;
    const told = JSON.stringify([lines.map(l => [l.id, l.unheard]), waiting.map(op => op.key), failed, me.staff, me.role]);
    if (list.dataset.shows === told) return;
    list.dataset.shows = told;
    const here = new Set(lines.map(l => l.id));
    const row = (by, at, text, more) => el('li', {}, el('small', { class: 'quiet' }, `${clock(at)}, ${by}`), el('span', {}, ...text), more);
    const drop = line => { const one = button('Delete', () => this.app.sync.add(this.model.make('talk', 'unsay', { line: line.id })), 'button-plain'); one.append(el('span', { class: 'vh' }, `: ${line.text.slice(0, 40)}`)); return one; };
    list.replaceChildren(
      ...lines.map(line => row(line.by, line.at, marked(line.text, line.unheard), me.assesses || line.mine === me.staff ? drop(line) : null)),
      ...waiting.filter(op => !here.has(op.key)).map(op => row(me.name, op.made_at, [op.payload.text], el('span', { class: 'mark small' }, shape('waiting'), el('span', {}, 'not heard yet')))),
      ...failed.map(r => el('li', {}, el('span', { class: r.state === 'failed' ? 'is-danger' : '' }, r.state === 'failed' ? `Recording: ${r.why}` : 'A recording is being listened to.'))));
    $('#talk-said').hidden = !list.children.length;
    const unheard = lines.reduce((sum, line) => sum + line.unheard.length, 0);
    write($('#talk-said summary span'), `What was said: ${many(lines.length + waiting.filter(op => !here.has(op.key)).length, 'line')}${unheard ? `; nothing heard in ${many(unheard, 'place')}` : ''}`);
  }
}

/* Words, and where they stand marked: spans count characters as the server does. */
function marked(text, spans) {
  const parts = [], chars = [...text];
  let at = 0;
  for (const [start, end] of spans.toSorted((a, b) => a[0] - b[0])) { if (end <= at) continue; parts.push(chars.slice(at, Math.max(at, start)).join(''), el('mark', {}, chars.slice(Math.max(at, start), end).join(''))); at = end; }
  return [...parts, chars.slice(at).join('')];
}
