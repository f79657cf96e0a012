/* What a station asks to be looked at again: the chip, the sex on record, a value that fear may have raised.
   Nothing waits for it. */

import { $, button, el, shape } from './dom.js';

export function prompts(app, root, code) {
  const told = toldAt(app, code), state = JSON.stringify(told), before = $(':scope > .prompts', root);
  if (before?.dataset.shows === state) return;
  if (!told.length) { before?.remove(); return; }
  const box = el('div', { class: 'prompts', data: { shows: state } }, ...told.map(each => card(app, each)));
  if (before) before.replaceWith(box); else $('.flags', root).before(box);
}

function toldAt(app, code) {
  const { model } = app, { chip, sex } = model.data.prompts, told = [];
  if (code === 'VIT') {
    if (chip.words) told.push({ name: 'chip', words: chip.words, url: chip.url, verb: 'To the scan' });
    for (const each of model.server.repeat ?? []) if (model.station.get(each.line) === code) told.push({ name: `repeat ${each.line}`, words: each.words });
  }
  if (model.station.get(sex.line) === code) told.push(...sexAt(model, sex));
  return told;
}

function sexAt(model, sex) {
  const answer = model.shown(sex.line);
  if ((answer?.findings ?? []).some(f => f.code === sex.code)) return [{ name: 'sex', words: `What was found does not match: this patient is kept as ${sex.kept_as}. Have the record corrected.`, url: sex.url, verb: 'Correct the record' }];
  if (sex.confirmed >= sex.needed || answer) return [];
  return [{ name: 'sex', words: `Kept as ${sex.kept_as}; confirmed at ${sex.confirmed} of ${sex.needed} visits. Look, and answer “${model.lines.get(sex.line).name}”.`, mismatch: true }];
}

function card(app, told) {
  const act = told.url ? el('a', { class: 'button', href: told.url }, told.verb)
    : told.mismatch && app.model.data.me.observes ? button('It does not match', () => mismatch(app)) : null;
  return el('div', { class: 'notice notice-look', data: { prompt: told.name } }, shape('flag'), el('p', {}, told.words), act);
}

/* One tap to the finding; the server asks to look twice. */
function mismatch(app) {
  const { line, code } = app.model.data.prompts.sex;
  app.sync.add(app.model.make(line, 'set_abnormal', { findings: [{ code }] }));
  $(`.choice[data-key="${CSS.escape(line)}"]`)?.scrollIntoView({ block: 'center' });
}

/* How the animal was while it was measured; kept with the value. */
export function howItWas(model, line) {
  if (!model.data.prompts.asks_state.includes(line.stored_at[0])) return null;
  const select = el('select', {}, el('option', { value: '' }, 'not said'), ...model.data.prompts.states.map(([value, words]) => el('option', { value }, words)));
  return el('label', { class: 'measure-in measure-how measure-state' }, el('span', {}, 'the animal was'), select);
}
