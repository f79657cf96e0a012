/* What opens in place under a line: what is abnormal, or why it was not examined. */

import { $, $$, button, el, pick, picksOf, upper } from './dom.js';
import { place, sideLabel } from './words.js';

const FIRST = 10;

export class Panels {
  constructor(app) { this.app = app; this.key = ''; }
  get model() { return this.app.model; }

  close(focus = false) {
    const key = this.key;
    this.key = '';
    for (const panel of $$('.panel')) panel.remove();
    for (const choice of $$('[data-in-hand]')) delete choice.dataset.inHand;
    if (key && focus) { this.app.refresh(); $(`.choice[data-key="${CSS.escape(key)}"] input:checked`)?.focus(); }
  }

  open(key, kind) {
    this.close();
    const choice = $(`.choice[data-key="${CSS.escape(key)}"]`) ?? $(`.choice[data-group="${CSS.escape(key.split('|')[0])}"]`);
    if (!choice) return;
    const line = this.model.lines.get(key), row = choice.closest('.line');
    this.key = key;
    choice.dataset.inHand = '';
    const panel = el('div', { class: kind === 'abnormal' ? 'panel' : 'panel panel-unseen', role: 'group', 'aria-labelledby': 'panel-title', data: { side: ['left', 'right'].includes(choice.dataset.column) ? choice.dataset.column : 'one', line: key } },
      el('div', { class: 'panel-head' }, el('h3', { id: 'panel-title' }, place(line)), button('Done', () => this.close(true))));
    row.append(panel);
    (kind === 'abnormal' ? this.abnormal : this.unseen).call(this, panel, line);
    if (panel.getBoundingClientRect().bottom > innerHeight) row.scrollIntoView({ block: 'start' });
  }

  /* ---- Abnormal ---- */

  abnormal(panel, line) {
    const model = this.model, answer = model.stored(line) ?? {};
    const draft = new Map((answer.findings ?? []).map(f => [f.code, { ...f, qualifiers: { ...f.qualifiers } }]));
    const part = answer.in_part ? { reason: answer.reason ?? '', words: answer.reason_words ?? '' } : null;
    const now = { draft, part };
    const send = () => this.send(line, now);
    const scales = scaleGroups(model, line), inScale = new Set(scales.flatMap(s => s.codes));
    for (const group of scales) panel.append(this.scale(group, now, send, told));
    const list = el('ul', { class: 'told' });
    const plain = line.codes.filter(code => !inScale.has(code));
    const toggles = el('div', { class: 'toggles' });
    function told() { list.replaceChildren(...[...draft.values()].map(entry => toldLine(model, line, entry, send, told))); list.hidden = !draft.size; }
    const toggle = code => pick({
      kind: 'abnormal', type: 'checkbox', mark: 'abnormal', words: `${model.walk.findings[code].name}${model.walk.findings[code].variant ? ' (goes with normal)' : ''}`, checked: draft.has(code),
      change: on => { if (on) draft.set(code, { code, qualifiers: {} }); else draft.delete(code); told(); send(); },
    });
    const first = plain.filter((code, i) => i < FIRST || draft.has(code)), rest = plain.filter(code => !first.includes(code));
    toggles.append(...first.map(toggle));
    if (rest.length) {
      const more = button(`${rest.length} more`, () => { const made = rest.map(toggle); more.replaceWith(...made); $('input', made[0]).focus(); }, 'button-plain');
      toggles.append(more);
    }
    if (plain.length) panel.append(el('fieldset', { class: 'what' }, el('legend', {}, scales.length ? 'What else? As many as apply.' : 'What is it? As many as apply.'), toggles));
    panel.append(list);
    told();
    panel.append(this.more(line, now, send));
  }

  scale({ key, codes, grades }, now, send, told) {
    const scale = this.model.walk.scales[key], chosen = codes.map(c => now.draft.get(c)).find(Boolean);
    const gradeOf = grade => codes.find(c => (this.model.walk.findings[c].grades ?? []).includes(grade)) ?? codes[0];
    const set = el('fieldset', { class: 'scale' }, el('legend', {}, scale.title), el('div', { class: 'scale-picks' }, ...grades.map(g => pick({
      kind: 'abnormal', mark: 'abnormal', name: `scale-${key}`, lead: g.label.replace(/ of .*/, ''), words: g.wording && g.wording !== g.label ? g.wording : '', checked: chosen && (chosen.grade || only(this.model, chosen.code)) === g.key,
      change: () => {
        const before = codes.map(c => now.draft.get(c)).find(Boolean);
        codes.forEach(c => now.draft.delete(c));
        now.draft.set(gradeOf(g.key), { qualifiers: {}, ...before, code: gradeOf(g.key), grade: g.key });
        told(); send();
      },
    }))));
    if (scale.note) set.append(el('p', { class: 'small quiet' }, scale.note));
    return set;
  }

  more(line, now, send) {
    const model = this.model, target = line.key;
    const note = el('textarea', { rows: 1, id: 'panel-note' });
    note.value = model.notes.get(line.stored_at[0]) ?? '';
    note.addEventListener('change', () => this.app.sync.add(model.make(target, 'note', { text: note.value })));
    const limited = el('div', { class: 'picks' });
    const drawLimits = () => {
      limited.hidden = !now.part;
      limited.replaceChildren(...model.walk.reasons.filter(r => r.use.includes('in-part') && !r.needs_words).map(r => pick({
        kind: 'unseen', name: 'limit', mark: 'part', words: r.words, checked: now.part?.reason === r.key, change: () => { now.part = { reason: r.key, words: '' }; send(); } })));
    };
    drawLimits();
    const part = pick({ type: 'checkbox', mark: 'part', words: 'Seen only in part', checked: Boolean(now.part), change: on => { now.part = on ? { reason: '', words: '' } : null; drawLimits(); send(); } });
    const other = otherSide(model, line);
    const same = other && pick({ type: 'checkbox', mark: 'normal', words: `The ${sideLabel(other)} side as well`, change: on => { if (on) this.send(other, now); } });
    const plan = el('a', { class: 'button button-plain', href: `${model.data.urls.plan}?line=${encodeURIComponent(line.stored_at[0])}` }, 'Open a problem');
    return el('div', { class: 'panel-more' }, el('label', { class: 'field' }, el('span', {}, 'Note'), note), plan, el('div', { class: 'picks' }, part, same), limited);
  }

  /* Only what is complete is sent; a finding that still needs its side or tooth says so and waits here. */
  send(line, { draft, part }) {
    const findings = [...draft.values()].filter(entry => !lacking(this.model, line, entry)).map(plainEntry);
    this.app.sync.add(this.model.make(line.key, 'set_abnormal', { findings, ...(part ? { in_part: part } : {}) }));
  }

  /* ---- Not examined, in part, none there ---- */

  unseen(panel, line) {
    const model = this.model, answer = model.stored(line) ?? {};
    const state = { much: answer.in_part ? answer.status : 'nothing', reason: answer.reason ?? '', words: answer.reason_words ?? '' };
    const send = () => {
      const why = { reason: state.reason, words: state.words };
      if (state.much === 'nothing') this.app.sync.add(model.make(line.key, 'set_not_examined', why));
      else if (state.much === 'normal') this.app.normal(line, { in_part: why });
      else this.app.sync.add(model.make(line.key, 'set_abnormal', { in_part: why, findings: (answer.findings ?? []).map(plainEntry) }));
    };
    const reasons = el('div', { class: 'picks' }), title = el('legend', {}, 'What stood in the way?');
    const draw = () => {
      const use = state.much === 'none' ? 'none-there' : state.much === 'nothing' ? 'not-examined' : 'in-part';
      title.textContent = use === 'none-there' ? 'Why is there none? It is kept for later visits.' : 'What stood in the way?';
      const offered = model.walk.reasons.filter(r => r.use.includes(use) && !r.needs_words && (!r.roles.length || r.roles.includes(model.data.me.role)));
      reasons.replaceChildren(...offered.map(r => pick({
        kind: 'unseen', name: 'reason', mark: use === 'none-there' ? 'na' : 'unseen', words: r.words, checked: state.reason === r.key,
        change: () => { Object.assign(state, { reason: r.key, words: '' }); words.value = ''; if (use === 'none-there') this.app.none(line, r.words, whole?.querySelector('input').checked); else send(); } })));
    };
    const whole = ['FLB', 'HLB'].includes(model.station.get(line.key)) && line.side !== '-' ? pick({ type: 'checkbox', mark: 'na', words: 'the whole leg' }) : null;
    const muches = [['nothing', 'nothing of it', 'unseen'], ['normal', 'part of it, and that was normal', 'part'], ['abnormal', 'part of it, and that was abnormal', 'part'], ['none', 'there is none: removed, amputated', 'na']]
      .filter(([value]) => (line.depth !== 'measured' || value === 'nothing') && (value !== 'none' || model.data.me.assesses));
    const much = picksOf('How much was seen?', muches.map(([value, words, mark]) => pick({
      name: 'much', words, mark, checked: state.much === value,
      change: () => { state.much = value; state.reason = ''; draw(); if (whole) whole.hidden = value !== 'none'; if (value !== 'none') send(); if (value === 'abnormal') this.open(line.key, 'abnormal'); } })), false);
    const words = el('input', { type: 'text', autocomplete: 'off' });
    words.value = state.words;
    words.addEventListener('change', () => { if (state.much === 'none') { this.app.none(line, words.value, whole?.querySelector('input').checked); return; } Object.assign(state, { reason: state.reason === 'other' || !state.reason ? 'other' : state.reason, words: words.value }); send(); });
    if (whole) whole.hidden = state.much !== 'none';
    draw();
    if (muches.length > 1) panel.append(much);
    panel.append(el('fieldset', {}, title, reasons), whole ?? '', el('label', { class: 'field' }, el('span', {}, 'Or in your own words'), words));
    const limits = line.limits ?? [];
    if (limits.length) panel.append(picksOf('How far could you look?', limits.map(code => pick({
      kind: 'unseen', type: 'checkbox', mark: 'unseen', words: model.walk.findings[code].name, checked: (answer.findings ?? []).some(f => f.code === code),
      change: on => this.app.sync.add(model.make(line.key, 'set_not_examined', { reason: state.reason, words: state.words, findings: on ? [{ code }] : [] })) })), false));
  }
}

/* ---- One finding: how much, where, and what qualifies it ---- */

function toldLine(model, line, entry, send, told) {
  const found = model.walk.findings[entry.code], parts = [];
  const set = (name, value) => { if (value) entry.qualifiers[name] = value; else delete entry.qualifiers[name]; told(); send(); };
  if (found.severity?.length) parts.push(picksOf(`${found.name}: how much`, found.severity.map(word => choose(`how-${entry.code}`, word, entry.severity === word, () => { entry.severity = word; told(); send(); }))));
  if (found.scale && (found.grades ?? []).length !== 1 && model.walk.scales[found.scale] && !inGroup(model, line, entry.code)) parts.push(picksOf(`${found.name}: grade`, gradesOf(model, found).map(g => choose(`grade-${entry.code}`, g.label, entry.grade === g.key, () => { entry.grade = g.key; told(); send(); }, g.wording))));
  for (const [name, values] of sides(line, found)) parts.push(picksOf(`${found.name}: which side`, values.map(value => choose(`side-${entry.code}`, value, entry.qualifiers[name] === value, () => set(name, value)))));
  if (found.side === 'tooth' && !/^\d+$/.test(line.side)) parts.push(toothPick(model, line, entry, () => { told(); send(); }));
  for (const name of found.qualifiers) {
    if (name === 'side' || name === 'tooth' || name === 'grade') continue;
    const values = closed(model, name);
    if (values) parts.push(el('div', { class: 'told-one' }, /\//.test(name) ? null : el('span', { class: 'small' }, upper(name.replace(/\?$/, ''))), picksOf(`${found.name}: ${name}`, values.map(value => choose(`${entry.code}-${name}`, value, entry.qualifiers[name] === value, () => set(name, entry.qualifiers[name] === value ? '' : value))))));
    else {
      const input = el('input', { type: 'text', autocomplete: 'off', inputmode: /^(mm|cm|ml|seconds|degrees|count|score|percent|months|mmHg)/.test(name) ? 'decimal' : 'text' });
      input.value = entry.qualifiers[name] ?? '';
      input.addEventListener('change', () => { if (input.value.trim()) entry.qualifiers[name] = input.value.trim(); else delete entry.qualifiers[name]; send(); });
      parts.push(el('label', { class: 'field' }, el('span', {}, name), input));
    }
  }
  if (found.scale === 'murmur-6') parts.push(el('div', { class: 'told-one' }, el('span', { class: 'small' }, 'Thrill'), picksOf('Thrill', ['no', 'yes'].map(value => choose(`${entry.code}-thrill`, value, entry.qualifiers.thrill === value, () => set('thrill', value))))));
  const wants = lacking(model, line, entry);
  return el('li', { data: { code: entry.code } }, el('span', { class: 'told-name' }, found.name, wants ? el('small', { class: 'is-look' }, ` ${wants}`) : ''), el('div', { class: 'told-parts' }, ...parts));
}
const choose = (name, words, checked, change, title) => {
  const made = pick({ kind: 'abnormal', name, words, mark: 'abnormal', checked, change });
  if (title && title !== words) made.title = title;
  return made;
};
function toothPick(model, line, entry, changed) {
  const teeth = [...model.lines.values()].filter(other => other.structure === 'MTH.teeth' && (line.side === '-' || other.side_words.includes(line.side.replace('-', ' '))));
  const select = el('select', {}, el('option', { value: '' }, 'which tooth?'), ...teeth.map(t => el('option', { value: t.side }, t.side_words)));
  select.value = entry.tooth ? String(entry.tooth) : '';
  select.addEventListener('change', () => { if (select.value) entry.tooth = Number(select.value); else delete entry.tooth; changed(); });
  return el('label', { class: 'field' }, el('span', {}, 'tooth'), select);
}
/* A line without sides asks the side of a finding that has one. */
function sides(line, found) {
  if (line.side !== '-' || !['L/R', 'L/R or midline'].includes(found.side)) return [];
  return [['side', found.side === 'L/R' ? ['left', 'right', 'both'] : ['left', 'right', 'both', 'midline']]];
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
function plainEntry(entry) {
  const kept = {};
  for (const name of ['code', 'severity', 'grade', 'qualifiers', 'circumstances', 'tooth', 'note', 'urgency']) {
    const value = entry[name];
    if (value && (typeof value !== 'object' || Object.keys(value).length)) kept[name] = value;
  }
  return kept;
}
function closed(model, name) {
  if (name in model.data.shared) return model.data.shared[name];
  if (name === 'medial / lateral') return ['medial', 'lateral', 'both'];
  if (name.endsWith('?')) return ['yes', 'no'];
  const values = name.split(' / ');
  return values.length > 1 && values.length < 7 ? values : null;
}
const only = (model, code) => { const grades = model.walk.findings[code].grades ?? []; return grades.length === 1 ? grades[0] : ''; };
const gradesOf = (model, found) => model.walk.scales[found.scale].grades.filter(g => !(found.grades ?? []).length || found.grades.includes(g.key));
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
const inGroup = (model, line, code) => scaleGroups(model, line).some(g => g.codes.includes(code));
function otherSide(model, line) {
  if (!['left', 'right'].includes(line.side)) return null;
  return model.lines.get(`${line.structure}|${line.side === 'left' ? 'right' : 'left'}`) ?? null;
}
