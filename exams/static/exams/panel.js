/* What opens in place under a line: what is abnormal, or why it was not examined. */

import { $, $$, button, el, pick, picksOf } from './dom.js';
import { photoStrip } from './photos.js';
import { TEETH, toothPanel } from './teeth-row.js';
import { FindingRow, lacking, only, plainEntry, scaleGroups } from './finding.js';
import { sameThere } from './other-side.js';
import { scaleButton } from './scales.js';
import { place } from './words.js';

const FIRST = 10;

/* Codes of a line that go with normal; a limit is said under Not examined. */
export const variantsOf = (model, line) => line.codes.filter(code => model.walk.findings[code].variant && model.walk.findings[code].variant !== 'limit');

export class Panels {
  constructor(app) { this.app = app; this.key = ''; }
  get model() { return this.app.model; }

  close(focus = false) {
    const key = this.key;
    this.key = '';
    for (const panel of $$('.panel')) panel.remove();
    for (const choice of $$('[data-in-hand]')) delete choice.dataset.inHand;
    if (key && focus) { this.app.refresh(); $(`.choice[data-key="${CSS.escape(key)}"] input:checked`)?.focus(); if (key.startsWith(`${TEETH}|`)) this.app.teeth?.focus(key); }
  }

  open(key, kind) {
    this.close();
    const choice = $(`.choice[data-key="${CSS.escape(key)}"]`) ?? $(`.choice[data-group="${CSS.escape(key.split('|')[0])}"]`);
    if (!choice) return;
    const line = this.model.lines.get(key), row = choice.closest('.line');
    this.key = key;
    choice.dataset.inHand = '';
    const panel = el('div', { class: { abnormal: 'panel', normal: 'panel panel-normal' }[kind] ?? 'panel panel-unseen', role: 'group', 'aria-labelledby': 'panel-title', data: { side: ['left', 'right'].includes(choice.dataset.column) ? choice.dataset.column : 'one', line: key } },
      el('div', { class: 'panel-head' }, el('h3', { id: 'panel-title' }, place(line)), button('Done', () => this.close(true))));
    row.append(panel);
    if (kind === 'abnormal' && line.structure === TEETH) toothPanel(this.app, panel, line);
    else ({ abnormal: this.abnormal, normal: this.variants }[kind] ?? this.unseen).call(this, panel, line);
    if (panel.getBoundingClientRect().bottom > innerHeight) row.scrollIntoView({ block: 'start' });
    const below = panel.getBoundingClientRect().top - innerHeight * 0.45; /* a tall row, the tooth chart, must not push what it asks out of sight */
    if (below > innerHeight * 0.1) scrollBy(0, below);
  }

  /* ---- Abnormal ---- */

  abnormal(panel, line) {
    const model = this.model, answer = model.stored(line) ?? {};
    const draft = new Map((answer.findings ?? []).map(f => [f.code, { ...f, qualifiers: { ...f.qualifiers } }]));
    const part = answer.in_part ? { reason: answer.reason ?? '', words: answer.reason_words ?? '' } : null;
    const now = { draft, part }, rows = new Map();
    const list = el('ul', { class: 'told' });
    const changed = () => { this.send(line, now); for (const row of rows.values()) row.refresh(); };
    const told = () => {
      for (const [code, row] of rows) if (draft.get(code) !== row.entry) { row.root.remove(); rows.delete(code); }
      for (const [code, entry] of draft) if (!rows.has(code)) { const row = new FindingRow(this.app, line, entry, changed); rows.set(code, row); list.append(row.root); }
      list.hidden = !draft.size;
    };
    const scales = scaleGroups(model, line), inScale = new Set(scales.flatMap(s => s.codes));
    for (const group of scales) panel.append(this.scale(group, now, changed, told));
    const plain = line.codes.filter(code => !inScale.has(code)), normal = plain.filter(code => model.walk.findings[code].variant), bad = plain.filter(code => !normal.includes(code));
    const toggle = code => pick({
      kind: normal.includes(code) ? 'normal' : 'abnormal', type: 'checkbox', mark: normal.includes(code) ? 'normal' : 'abnormal', words: model.walk.findings[code].name, checked: draft.has(code),
      change: on => { if (on) draft.set(code, { code, qualifiers: {} }); else draft.delete(code); told(); changed(); },
    });
    const toggles = el('div', { class: 'toggles' });
    const first = bad.filter((code, i) => i < FIRST || draft.has(code)), rest = bad.filter(code => !first.includes(code));
    toggles.append(...first.map(toggle));
    if (rest.length) {
      const more = button(`${rest.length} more`, () => { const made = rest.map(toggle); more.replaceWith(...made); $('input', made[0]).focus(); }, 'button-plain');
      toggles.append(more);
    }
    if (bad.length) panel.append(el('fieldset', { class: 'what' }, el('legend', {}, scales.length ? 'What else? As many as apply.' : 'What is it? As many as apply.'), toggles));
    if (normal.length) panel.append(el('fieldset', { class: 'what' }, el('legend', {}, 'Goes with normal'), el('div', { class: 'toggles' }, ...normal.map(toggle))));
    panel.append(list);
    told();
    panel.append(this.more(line, now, () => this.send(line, now)));
  }

  /* ---- Normal, with what is usual for some ---- */

  variants(panel, line) {
    const model = this.model, answer = model.stored(line) ?? {};
    const draft = new Map((answer.findings ?? []).map(f => [f.code, f])), part = answer.in_part ? { in_part: { reason: answer.reason ?? '', words: answer.reason_words ?? '' } } : {};
    const send = () => this.app.normal(line, { findings: [...draft.values()].map(plainEntry), ...part });
    panel.append(picksOf('Goes with normal', variantsOf(model, line).map(code => pick({
      kind: 'normal', type: 'checkbox', mark: 'normal', words: model.walk.findings[code].name, checked: draft.has(code),
      change: on => { if (on) draft.set(code, { code, qualifiers: {} }); else draft.delete(code); send(); } })), false));
    panel.append(el('div', { class: 'panel-more' }, this.note(line), photoStrip(this.app, line.stored_at[0], place(line))));
  }

  note(line) {
    const note = el('textarea', { rows: 1, id: 'panel-note' });
    note.value = this.model.notes.get(line.stored_at[0]) ?? '';
    note.addEventListener('change', () => this.app.sync.add(this.model.make(line.key, 'note', { text: note.value })));
    return el('label', { class: 'field' }, el('span', {}, 'Note'), note);
  }

  scale({ key, codes, grades }, now, changed, told) {
    const { walk } = this.model, scale = walk.scales[key];
    const stands = () => codes.map(c => now.draft.get(c)).find(Boolean);
    const chosen = () => { const entry = stands(); return entry ? entry.grade || only(this.model, entry.code) : ''; };
    const codeOf = grade => codes.find(c => (walk.findings[c].grades ?? []).includes(grade)) ?? codes[0];
    const take = grade => {
      const before = stands();
      codes.forEach(c => now.draft.delete(c));
      if (grade) now.draft.set(codeOf(grade), { qualifiers: {}, ...before, code: codeOf(grade), grade });
      for (const input of $$('input', set)) input.checked = input.value === grade;
      told(); changed();
    };
    const set = el('fieldset', { class: 'scale' }, el('legend', {}, scale.title, ' ', scaleButton(this.model, key, { chosen, choose: grade => { if (grades.some(g => g.key === grade)) take(grade); } })),
      el('div', { class: 'scale-picks' }, ...grades.map(g => pick({
        kind: 'abnormal', mark: 'abnormal', name: `scale-${key}`, value: g.key, lead: g.label.replace(/ of .*/, ''), words: g.wording && g.wording !== g.label ? g.wording : '', checked: chosen() === g.key,
        click: () => take(chosen() === g.key ? '' : g.key) }))));
    return set;
  }

  more(line, now, send) {
    const model = this.model;
    const limited = el('div', { class: 'picks' });
    const drawLimits = () => {
      limited.hidden = !now.part;
      limited.replaceChildren(...model.walk.reasons.filter(r => r.use.includes('in-part') && !r.needs_words).map(r => pick({
        kind: 'unseen', name: 'limit', mark: 'part', words: r.words, checked: now.part?.reason === r.key, change: () => { now.part = { reason: r.key, words: '' }; send(); } })));
    };
    drawLimits();
    const part = pick({ type: 'checkbox', mark: 'part', words: 'Seen only in part', checked: Boolean(now.part), change: on => { now.part = on ? { reason: '', words: '' } : null; drawLimits(); send(); } });
    const same = sameThere(this.app, line, { words: 'Same', copy: there => this.send(there, now), open: there => this.open(there.key, 'abnormal') });
    const plan = el('a', { class: 'button button-plain', href: `${model.data.urls.plan}?line=${encodeURIComponent(line.stored_at[0])}` }, 'Open a problem');
    return el('div', { class: 'panel-more' }, this.note(line), plan, el('div', { class: 'picks panel-part' }, part), same, limited, photoStrip(this.app, line.stored_at[0], place(line)));
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
    const isLimit = f => model.walk.findings[f.code]?.variant === 'limit';
    const limited = new Map((answer.findings ?? []).filter(isLimit).map(f => [f.code, { ...f, qualifiers: { ...f.qualifiers } }]));
    const send = (to = line) => {
      const why = { reason: state.reason, words: state.words }, limits = [...limited.values()].map(plainEntry);
      if (state.much === 'nothing') this.app.sync.add(model.make(to.key, 'set_not_examined', { ...why, ...(limits.length ? { findings: limits } : {}) }));
      else if (state.much === 'normal') this.app.normal(to, { in_part: why, ...(limits.length ? { findings: limits } : {}) });
      else this.app.sync.add(model.make(to.key, 'set_abnormal', { in_part: why, findings: [...(answer.findings ?? []).filter(f => !isLimit(f)).map(plainEntry), ...limits] }));
    };
    const reasons = el('div', { class: 'picks' }), title = el('legend', {}, 'What stood in the way?');
    const draw = () => {
      const use = state.much === 'none' ? 'none-there' : state.much === 'nothing' ? 'not-examined' : 'in-part';
      title.textContent = use === 'none-there' ? 'Why is there none? It is kept for later visits.' : 'What stood in the way?';
      const offered = model.walk.reasons.filter(r => r.use.includes(use) && !r.needs_words && (!r.roles.length || r.roles.includes(model.data.me.role)));
      reasons.replaceChildren(...offered.map(r => pick({
        kind: 'unseen', name: 'reason', mark: use === 'none-there' ? 'na' : 'unseen', words: r.words, checked: state.reason === r.key,
        change: () => { Object.assign(state, { reason: r.key, words: '' }); words.value = ''; if (use !== 'none-there') send(); },
        /* by the click: without a network it was refused, and the same reason is tapped again */
        click: () => { if (use === 'none-there') this.app.none(line, r.words, whole?.querySelector('input').checked); } })));
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
    const list = el('ul', { class: 'told' });
    const told = () => { list.replaceChildren(...[...limited.values()].map(entry => new FindingRow(this.app, line, entry, () => send()).root)); list.hidden = !limited.size; };
    told();
    if (limits.length) panel.append(picksOf('How far could you look?', limits.map(code => pick({
      kind: 'unseen', type: 'checkbox', mark: 'unseen', words: model.walk.findings[code].name, checked: limited.has(code),
      change: on => { if (on) limited.set(code, { code, qualifiers: {} }); else limited.delete(code); told(); send(); } })), false), list);
    panel.append(sameThere(this.app, line, { words: 'Same', copy: there => send(there), open: there => this.open(there.key, 'unseen') }) ?? '');
  }
}
