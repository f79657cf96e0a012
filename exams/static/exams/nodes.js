/* Lymph nodes in mm, each at its line; what the sizes speak for is offered at the station, never recorded unasked. */

import { $, button, el, shape } from './dom.js';
import { scaleButton } from './scales.js';
import { place, sideLabel } from './words.js';

export const isNode = (model, line) => model.walk.sheets[line.structure] === 'lymph-node';
const LARGE = 10; /* mm, from which the panel opens: what is it? */

export function nodeSize(app, line) {
  const { model } = app, wrong = el('small', { class: 'field-error', role: 'status' });
  const input = el('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'aria-label': `${line.name}, ${sideLabel(line)}: long axis, mm` });
  input.disabled = !model.data.me.observes;
  input.addEventListener('change', () => {
    const text = input.value.trim(), mm = Number(text.replace(',', '.'));
    wrong.textContent = text && !(mm > 0 && mm <= 200) ? 'mm, up to 200' : '';
    if (wrong.textContent) return;
    const stands = model.stored(line), bad = stands?.status === 'abnormal';
    if (bad || mm >= LARGE) {
      app.sync.add(model.make(line.key, 'set_abnormal', { findings: bad ? stands.findings ?? [] : [], size_mm: text }));
      app.panels.open(line.key, 'abnormal');
    } else if (text || stands?.status === 'normal') app.normal(line, { size_mm: text });
  });
  return el('label', { class: 'node-size small' }, el('span', { 'aria-hidden': 'true' }, 'long axis'), input, el('span', { 'aria-hidden': 'true' }, 'mm'), wrong);
}
export function sayNode(model, made, line) {
  const input = $('.node-size input', made), answer = model.stored(line);
  if (input && input !== document.activeElement) input.value = answer?.unit === 'mm' ? answer.value ?? '' : '';
}

/* ---- What the server offers because of a value ---- */

export function suggestions(app, root, code) {
  const { model } = app, gone = (app.declined ??= new Set());
  const here = (model.server.suggested ?? []).filter(s => model.station.get(s.line) === code && !gone.has(`${s.line} ${s.code}`) && !(model.answers.get(s.line)?.findings ?? []).some(f => f.code === s.code));
  let box = $('.suggested', root);
  if (!box) { box = el('div', { class: 'suggested', role: 'status' }); $('.lines', root).after(box); }
  const state = JSON.stringify(here);
  if (box.dataset.shows === state) return;
  box.dataset.shows = state;
  box.replaceChildren(...here.map(s => {
    const line = model.lines.get(s.line), stands = model.stored(line), name = model.walk.findings[s.code].name;
    return el('div', { class: 'notice notice-look' }, shape('flag'), el('div', {}, el('p', {}, el('b', {}, name), ' ', s.words)),
      el('div', { class: 'picks' }, button('Record it', () => {
        app.sync.add(model.make(s.line, 'set_abnormal', { findings: [...(stands?.findings ?? []), { code: s.code }] }));
        app.panels.open(s.line, 'abnormal');
      }), button('Leave it', () => { gone.add(`${s.line} ${s.code}`); app.refresh(); }, 'button-plain'), scaleButton(model, model.walk.sheets[line.structure] ?? 'lymph-node', { of: place(line) })));
  }));
}
