/* One finding in an open panel: how much, where, what qualifies it, how urgent it is and why. */

import { $, $$, button, el, pick, picksOf, reshape, shape, upper } from './dom.js';
import { openTotal, scaleButton } from './scales.js';
import { CLASSES, LETTERS, changeWords, circumstancesFor, inWords, urgencyOf } from './urgency.js';

const MORE = ['onset', 'duration', 'change', 'extent', 'seen by', 'certainty'];
const WHYS = ['known and under treatment', 'milder than it sounds', 'worse than it sounds', 'the owner cannot watch it'];
const NUMBER = /^\d+([.,]\d+)?$/;

/* Built once and kept, so that the focus stays where it is; `refresh` says class and lacks anew.
   `elsewhere`: another part of the panel asks how much and where; `left` names the qualifiers still asked here and
   `lacks` says what the entry needs. */
export class FindingRow {
  constructor(app, line, entry, changed, elsewhere = null) {
    Object.assign(this, { app, line, entry, changed, elsewhere });
    this.found = this.model.walk.findings[entry.code];
    this.wants = el('small', { class: 'is-look' });
    this.klass = el('span', { class: 'mark told-class' }, shape('begun'), el('span', {}));
    this.why = el('p', { class: 'small told-why', role: 'status' });
    this.parts = el('div', { class: 'told-parts' });
    this.root = el('li', { data: { code: entry.code } }, el('div', { class: 'told-head' }, el('span', { class: 'told-name' }, this.found.name, ' ', this.wants), this.klass), this.parts, this.urgency());
    this.draw();
    this.refresh();
  }
  get model() { return this.app.model; }
  set(name, value) { if (value) this.entry.qualifiers[name] = value; else delete this.entry.qualifiers[name]; this.changed(); }

  draw() {
    const { model, line, entry, found } = this, parts = [];
    if (this.elsewhere) {
      this.parts.replaceChildren(...(found.asked ?? []).filter(([name]) => this.elsewhere.left.includes(name)).map(([name, at]) => this.ask(name, model.walk.ways[at])));
      return;
    }
    if (found.severity?.length) parts.push(one(`${found.name}: how much`, found.severity, () => entry.severity, value => { entry.severity = value; this.changed(); }));
    if (graded(model, line, entry.code)) {
      const take = key => { entry.grade = key; this.draw(); this.changed(); };
      const labels = gradesOf(model, found);
      parts.push(el('div', { class: 'told-one' }, one(`${found.name}: grade`, labels.map(g => [g.key, g.label, g.wording]), () => entry.grade, value => { entry.grade = value; this.changed(); }),
        scaleButton(model, found.scale, { of: found.name, chosen: () => entry.grade, choose: key => { if (labels.some(g => g.key === key)) take(key); } })));
    }
    for (const values of sides(line, found)) parts.push(one(`${found.name}: which side`, values, () => entry.qualifiers.side, value => this.set('side', value)));
    if (found.side === 'tooth' && !/^\d+$/.test(line.side)) parts.push(toothPick(model, line, entry, () => this.changed()));
    for (const [name, at] of found.asked ?? []) if (!(name === 'teeth' && /^\d+$/.test(line.side))) parts.push(this.ask(name, model.walk.ways[at]));
    this.parts.replaceChildren(...parts);
  }

  /* ---- One qualifier, as its data says ---- */

  ask(name, way) {
    const { entry, found } = this, words = upper(way.words ?? name.replace(/\?$/, '')), legend = `${found.name}: ${words}`;
    const now = () => entry.qualifiers[name] ?? '';
    const listed = Boolean(way.words) || !/ \/ /.test(name);
    const told = control => el('div', { class: 'told-one' }, listed ? el('span', { class: 'small', 'aria-hidden': 'true' }, words) : null, control,
      way.scales && way.kind === 'one' ? scaleButton(this.model, way.scales[0], { of: words }) : null);
    if (way.kind === 'flag') return pick({ kind: 'abnormal', type: 'checkbox', mark: 'abnormal', words: upper(words), checked: now() === 'yes', change: on => this.set(name, on ? 'yes' : '') });
    if (way.kind === 'one') return told(one(legend, withOwn(way.values, [now()]), now, value => this.set(name, value)));
    if (way.kind === 'several') return told(several(legend, way.values, () => now().split(', ').filter(Boolean), values => this.set(name, values.join(', '))));
    if (way.kind === 'number') return this.number(name, way, words);
    if (way.kind === 'sizes') return this.sizes(name, way, words);
    if (way.kind === 'total') return this.total(name, way, words);
    const input = el('input', { type: 'text', autocomplete: 'off', value: now() });
    input.addEventListener('change', () => this.set(name, input.value.trim()));
    return el('label', { class: 'field' }, el('span', {}, words), input);
  }
  number(name, way, words) {
    const wrong = el('small', { class: 'field-error', role: 'status' });
    const input = field(this.entry.qualifiers[name] ?? '', `${this.found.name}: ${words}${way.unit ? `, ${way.unit}` : ''}`);
    input.addEventListener('change', () => { wrong.textContent = amiss(input.value, way); if (!wrong.textContent) this.set(name, input.value.trim()); });
    return el('label', { class: 'told-number' }, el('span', { class: 'small' }, words), input, el('span', { class: 'small' }, way.unit ?? ''), wrong);
  }
  sizes(name, way, words) {
    const wrong = el('small', { class: 'field-error', role: 'status' }), many = Math.max(2, (name.match(/mm/g) ?? []).length);
    const had = (this.entry.qualifiers[name] ?? '').match(/\d+(?:[.,]\d+)?/g) ?? [];
    const inputs = Array.from({ length: many }, (_, i) => field(had[i] ?? '', `${this.found.name}: ${words}, ${i + 1} of ${many}, ${way.unit}`));
    const take = () => {
      const typed = inputs.map(i => i.value.trim()).filter(Boolean);
      wrong.textContent = typed.map(t => amiss(t, way)).find(Boolean) ?? (typed.length === 1 ? 'at least two of them' : '');
      if (!wrong.textContent) this.set(name, typed.join(' x '));
    };
    for (const input of inputs) input.addEventListener('change', take);
    return el('div', { class: 'told-number', role: 'group', 'aria-label': `${this.found.name}: ${words}` }, el('span', { class: 'small' }, words), ...inputs.flatMap((input, i) => (i ? [el('span', { 'aria-hidden': 'true' }, '×'), input] : [input])), el('span', { class: 'small' }, way.unit), wrong);
  }
  total(name, way, words) {
    const says = el('span', { class: 'small' }, this.entry.qualifiers[name] ?? ''), off = button('take off', () => keep(''), 'button-plain');
    const keep = text => { says.textContent = text; off.hidden = !text; this.set(name, text); };
    off.hidden = !says.textContent;
    const open = button(words, () => openTotal(this.model, way.scales, { keep }));
    open.setAttribute('aria-haspopup', 'dialog');
    return el('div', { class: 'told-one' }, open, says, off);
  }

  /* ---- How urgent: the usual class, what moves it here, and a clinician's own ---- */

  urgency() {
    const { model, found, entry } = this, keys = circumstancesFor(model, found), has = new Set(entry.circumstances ?? []);
    const when = changeWords(found), box = el('div', { class: 'told-urgency' });
    if (keys.length) box.append(picksOf(`${found.name}: what makes it more or less urgent`, keys.map(key => pick({
      kind: 'abnormal', type: 'checkbox', mark: 'abnormal', words: model.walk.circumstances[key].words, checked: has.has(key),
      change: on => { if (on) has.add(key); else has.delete(key); entry.circumstances = [...has]; this.changed(); } }))));
    box.prepend(this.why);
    this.when = when;
    box.append(el('div', { class: 'told-foot' }, model.data.me.role === 'clinician' ? this.override() : null, this.more()));
    return box;
  }
  override() {
    const { entry, found } = this;
    const words = el('input', { type: 'text', autocomplete: 'off', maxlength: 200, value: WHYS.includes(entry.urgency_why) ? '' : entry.urgency_why ?? '' });
    const lacks = el('small', { class: 'field-error', role: 'status' });
    const tell = () => { lacks.textContent = entry.urgency && !entry.urgency_why ? 'Say why: until then the usual class stands.' : ''; this.changed(); };
    const because = one(`${found.name}: why this class`, WHYS, () => entry.urgency_why, value => { entry.urgency_why = value; words.value = ''; tell(); }, 'act');
    words.addEventListener('change', () => { entry.urgency_why = words.value.trim(); because.again(); tell(); });
    const reasons = el('div', { class: 'told-because' }, because, el('label', { class: 'field' }, el('span', {}, 'or in words'), words), lacks);
    const classes = one(`${found.name}: class of urgency`, LETTERS.map(l => [l, CLASSES[l][0]]), () => entry.urgency, value => {
      entry.urgency = value;
      if (!value) { entry.urgency_why = ''; words.value = ''; because.again(); }
      reasons.hidden = !value;
      tell();
    }, 'act');
    reasons.hidden = !entry.urgency;
    return el('details', { class: 'told-own', open: Boolean(entry.urgency) }, el('summary', {}, 'Another class'), classes, reasons);
  }

  /* ---- Said more rarely, one tap away ---- */

  more() {
    const { model, found, entry } = this, own = new Set((found.asked ?? []).map(([name]) => name));
    const names = MORE.filter(name => !own.has(name) && model.data.shared[name]);
    const note = el('input', { type: 'text', autocomplete: 'off', value: entry.note ?? '' });
    note.addEventListener('change', () => { entry.note = note.value.trim(); this.changed(); });
    const isSaid = names.some(name => entry.qualifiers[name]) || entry.note;
    return el('details', { class: 'told-more', open: Boolean(isSaid) }, el('summary', {}, 'More: since when, change, seen by, in words'),
      el('div', { class: 'told-parts' }, ...names.map(name => el('div', { class: 'told-one' }, el('span', { class: 'small', 'aria-hidden': 'true' }, upper(name)), one(`${found.name}: ${name}`, model.data.shared[name], () => entry.qualifiers[name], value => this.set(name, value)))),
        el('label', { class: 'field' }, el('span', {}, 'In words'), note)));
  }

  refresh() {
    const { model, entry, found } = this, lacks = this.elsewhere ? this.elsewhere.lacks(entry) : lacking(model, this.line, entry), now = urgencyOf(model, entry, this.line);
    const [words, mark, tone] = CLASSES[now.letter];
    this.wants.textContent = lacks;
    this.klass.hidden = Boolean(found.variant && now.letter === 'M');
    this.klass.className = `mark told-class ${tone}`;
    this.klass.dataset.letter = now.letter;
    reshape(this.klass, mark);
    $('span', this.klass).textContent = words;
    const usual = CLASSES[found.urgency][0].toLowerCase();
    const reason = now.byHand ? `Set by hand, usually ${usual}: ${entry.urgency_why}.` : now.because.length ? `Usually ${usual}; ${words.toLowerCase()} here: ${inWords(model, now.because)}.` : '';
    this.why.replaceChildren(...[reason ? el('b', {}, reason) : null, this.when ? ` ${this.when}.` : null].filter(Boolean));
    this.why.hidden = !reason && !this.when;
  }
}

/* ---- Controls ---- */

/* One of several, taken off by a second tap on it. values: words, or [value, words, title]. */
export function one(legend, values, now, set, kind = 'abnormal') {
  const name = `one-${legend}-${(one.made = (one.made ?? 0) + 1)}`;
  const made = values.map(v => {
    const [value, words, title] = Array.isArray(v) ? v : [v, v];
    const label = pick({ kind, name, value, words, mark: kind === 'act' ? 'normal' : 'abnormal', checked: now() === value, click: () => { set(now() === value ? '' : value); box.again(); } });
    if (title && title !== words) label.title = title;
    return label;
  });
  const box = picksOf(legend, made);
  box.again = () => { for (const input of $$('input', box)) input.checked = input.value === (now() ?? ''); };
  return box;
}
function several(legend, values, now, set) {
  return picksOf(legend, withOwn(values, now()).map(value => pick({
    kind: 'abnormal', type: 'checkbox', mark: 'abnormal', words: value, checked: now().includes(value),
    change: on => { const has = new Set(now()); if (on) has.add(value); else has.delete(value); set(withOwn(values, [...has]).filter(v => has.has(v))); } })));
}
/* What was said in other words stays on the list. */
const withOwn = (values, said) => [...values, ...said.filter(v => v && !values.includes(v))];
const field = (value, label) => el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', value, 'aria-label': label });
function amiss(text, { least, most }) {
  const value = text.trim();
  if (!value) return '';
  if (!NUMBER.test(value)) return 'a number, please';
  const number = Number(value.replace(',', '.'));
  return (least !== undefined && number < least) || (most !== undefined && number > most) ? `${least} to ${most}` : '';
}
function toothPick(model, line, entry, changed) {
  const teeth = [...model.lines.values()].filter(other => other.structure === 'MTH.teeth' && (line.side === '-' || other.side_words.includes(line.side.replace('-', ' '))));
  const select = el('select', {}, el('option', { value: '' }, 'which tooth?'), ...teeth.map(t => el('option', { value: t.side }, t.side_words)));
  select.value = entry.tooth ? String(entry.tooth) : '';
  select.addEventListener('change', () => { if (select.value) entry.tooth = Number(select.value); else delete entry.tooth; changed(); });
  return el('label', { class: 'field' }, el('span', {}, 'tooth'), select);
}

/* ---- What a finding needs ---- */

/* A line without sides asks the side of a finding that has one. */
function sides(line, found) {
  if (line.side !== '-' || !['L/R', 'L/R or midline'].includes(found.side)) return [];
  return [found.side === 'L/R' ? ['left', 'right', 'both'] : ['left', 'right', 'both', 'midline']];
}
export function lacking(model, line, entry) {
  const found = model.walk.findings[entry.code];
  if (sides(line, found).length && !line.structure.endsWith('.*') && !entry.qualifiers?.side) return 'which side?';
  if (found.side === 'tooth' && !/^\d+$/.test(line.side) && !entry.tooth) return 'which tooth?';
  if (found.scale === 'patella-4' && !entry.qualifiers?.['medial / lateral']) return 'medial or lateral?';
  const thrill = entry.qualifiers?.thrill, grade = entry.grade || only(model, entry.code);
  if (found.scale === 'murmur-6' && thrill && grade && (thrill === 'yes') !== ['5', '6'].includes(grade)) return 'with a thrill V or VI, without one IV at most';
  return '';
}
export function plainEntry(entry) {
  const kept = {};
  for (const name of ['code', 'severity', 'grade', 'qualifiers', 'circumstances', 'tooth', 'note']) {
    const value = entry[name];
    if (value && (typeof value !== 'object' || Object.keys(value).length)) kept[name] = value;
  }
  if (entry.urgency && entry.urgency_why) Object.assign(kept, { urgency: entry.urgency, urgency_why: entry.urgency_why });
  return kept;
}
export const only = (model, code) => { const grades = model.walk.findings[code].grades ?? []; return grades.length === 1 ? grades[0] : ''; };
const gradesOf = (model, found) => model.walk.scales[found.scale].grades.filter(g => !(found.grades ?? []).length || found.grades.includes(g.key));
function graded(model, line, code) {
  const { scale, grades } = model.walk.findings[code];
  return Boolean(scale && (grades ?? []).length !== 1 && model.walk.scales[scale]?.grades.length && !scaleGroups(model, line).some(g => g.codes.includes(code)));
}
/* Codes of one line that are the steps of one published scale are offered as that scale. */
export function scaleGroups(model, line) {
  const byScale = new Map();
  for (const code of line.codes) {
    const { scale, grades } = model.walk.findings[code];
    if (scale && model.walk.scales[scale]?.grades.length > 1 && (grades ?? []).length) byScale.set(scale, [...(byScale.get(scale) ?? []), code]);
  }
  return [...byScale].filter(([, codes]) => codes.length > 1).map(([key, codes]) => {
    const keys = new Set(codes.flatMap(c => model.walk.findings[c].grades));
    return { key, codes, grades: model.walk.scales[key].grades.filter(g => keys.has(g.key)) };
  });
}
