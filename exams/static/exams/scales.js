/* A published scale in a dialog: its wording and picture, where it is from, how sure we are, and the choice itself. */

import { $, $$, button, el, pick, upper } from './dom.js';

/* A button that opens the scale. `chosen()` is what stands now; `choose(key)` takes another step. */
export function scaleButton(model, key, { chosen = () => '', choose = null, words = 'The scale', of = '' } = {}) {
  if (!model.walk.scales[key]) return null;
  const made = button(words, () => openScale(model, key, { chosen: chosen(), choose }), 'button-plain scale-open');
  made.setAttribute('aria-haspopup', 'dialog');
  made.setAttribute('aria-label', `${words}${of ? ` of ${of}` : ''}: ${model.walk.scales[key].title}, wording and source`);
  return made;
}

export function openScale(model, key, { chosen = '', choose = null } = {}) {
  const scale = model.walk.scales[key];
  const sheet = dialog(scale.title);
  if (scale.drawn) sheet.append(drawing(model, key, scale));
  if (choose && scale.grades.length) sheet.append(steps(scale, chosen, grade => { sheet.close(); choose(grade); }));
  else if (scale.grades.length) sheet.append(table(scale));
  else if (scale.normal) sheet.append(el('p', {}, `Usual: ${scale.normal}.`));
  sheet.append(about(scale));
  const beside = model.walk.scales[scale.beside];
  if (beside) sheet.append(el('details', { class: 'scale-beside' }, el('summary', {}, `For comparison: ${beside.title}`), table(beside), about(beside)));
  show(sheet);
}

/* A total: of parts, of items, or as read from the licensed form, whose wording is not shown here. */
export function openTotal(model, keys, { keep }) {
  const known = keys.filter(key => model.walk.scales[key]);
  if (known.length === 1) { totalOf(model, known[0], keep); return; }
  const sheet = dialog('Which published scale?');
  sheet.append(el('div', { class: 'scale-list' }, ...known.map(key => button(model.walk.scales[key].title, () => { sheet.close(); totalOf(model, key, keep); }))),
    el('p', { class: 'small quiet' }, 'Its total is kept with its name and its maximum. Where a licence closes the form, only the total is asked.'));
  show(sheet);
}

function totalOf(model, key, keep) {
  const scale = model.walk.scales[key], sheet = dialog(scale.title), picked = new Map();
  const says = el('p', { class: 'scale-total', role: 'status' }, 'Nothing is scored yet.');
  const done = button('Keep this total', () => { const words = reading(); if (!words) return; sheet.close(); keep(words.kept); }, 'button-main');
  let reading = () => null;
  const tell = () => {
    const now = reading();
    says.replaceChildren(now ? now.words : 'Not every part is scored yet.');
    says.className = now?.acts ? 'scale-total is-look' : 'scale-total';
    done.setAttribute('aria-disabled', String(!now));
  };
  if (scale.parts) {
    for (const part of scale.parts) sheet.append(el('fieldset', { class: 'scale' }, el('legend', {}, part.label), el('div', { class: 'scale-picks' }, ...part.grades.map(g => pick({
      kind: 'act', name: `part-${part.key}`, lead: g.label, words: g.wording, change: () => { picked.set(part.key, Number(g.key)); tell(); } })))));
    reading = () => {
      if (picked.size < scale.parts.length) return null;
      const total = sum(picked), band = (scale.bands ?? []).find(b => within(b, total));
      const each = scale.parts.map(p => `${p.key} ${picked.get(p.key)}`).join(', ');
      return { words: `${total} of ${scale.total_max}. ${band ? `Band ${band}.` : ''}`, kept: `${short(scale)} ${total} of ${scale.total_max}: ${each}` };
    };
  } else if (scale.items) {
    for (const item of scale.items) sheet.append(el('fieldset', { class: 'picks scale-item' }, el('legend', {}, upper(item)), ...[...scale.grades.map(g => [g.key, g.label === g.wording ? g.label : `${g.label}: ${g.wording}`]), ['-', 'cannot be scored']].map(([value, words]) => pick({
      kind: value === '-' ? 'unseen' : 'act', mark: value === '-' ? 'unseen' : 'normal', name: `item-${item}`, words, change: () => { picked.set(item, value === '-' ? null : Number(value)); tell(); } }))));
    reading = () => {
      if (picked.size < scale.items.length) return null;
      const scored = [...picked.values()].filter(v => v !== null), most = scored.length * scale.item_max;
      if (!most) return null;
      return judged(scale, scored.reduce((a, b) => a + b, 0), most);
    };
  } else {
    const most = [...new Set((scale.acts ?? []).map(a => a.split(' of ')[1]).concat(scale.total_max ? [String(scale.total_max)] : []))];
    const total = el('input', { type: 'text', inputmode: 'numeric', autocomplete: 'off' });
    const maximum = most.length > 1 ? el('select', {}, ...most.map(m => el('option', { value: m }, m))) : el('input', { type: 'text', inputmode: 'numeric', autocomplete: 'off', value: most[0] ?? '', readonly: most.length === 1 });
    reading = () => {
      const a = Number(total.value), b = Number(maximum.value);
      return total.value.trim() && Number.isInteger(a) && Number.isInteger(b) && a >= 0 && b > 0 && a <= b ? judged(scale, a, b) : null;
    };
    for (const field of [total, maximum]) field.addEventListener('input', tell);
    sheet.append(el('div', { class: 'row' }, el('label', { class: 'field' }, el('span', {}, 'Total'), total), el('label', { class: 'field' }, el('span', {}, 'of'), maximum)));
  }
  tell();
  sheet.append(el('div', { class: 'scale-foot' }, says, done), about(scale));
  show(sheet);
}
function judged(scale, total, most) {
  const acts = (scale.acts ?? []).map(a => a.split(' of ').map(Number)).some(([at, of]) => of === most && total >= at) || Boolean(scale.act_ratio && total / most > scale.act_ratio);
  return { words: `${total} of ${most}.${acts ? ' The scale suggests pain relief; a clinician decides.' : ''}`, acts, kept: `${short(scale)} ${total} of ${most}` };
}
const sum = picked => [...picked.values()].reduce((a, b) => a + b, 0);
const short = scale => scale.title.replace(/ \(.*?\)/g, '').replace(/, \d+ to \d+$/, '');
const within = (band, total) => { const [low, high] = band.match(/\d+/g).map(Number); return total >= low && total <= high; };

/* ---- Parts of a sheet ---- */

function dialog(title) {
  const sheet = el('dialog', { class: 'over scale-sheet', 'aria-labelledby': 'scale-title' });
  sheet.append(el('div', { class: 'scale-head' }, el('h2', { id: 'scale-title' }, title), button('Close', () => sheet.close())));
  sheet.addEventListener('close', () => sheet.remove());
  return sheet;
}
function show(sheet) {
  document.body.append(sheet);
  sheet.showModal();
  ($('input:checked', sheet) ?? $('.scale-head .button', sheet)).focus();
}
function steps(scale, chosen, choose) {
  return el('fieldset', { class: scale.grades.some(g => lead(g).length > 4) ? 'scale scale-wide' : 'scale' }, el('legend', { class: 'vh' }, scale.title), el('div', { class: 'scale-picks' }, ...scale.grades.map(g => pick({
    kind: 'act', name: 'scale-step', lead: lead(g), words: g.wording === g.label ? '' : g.wording, checked: g.key === chosen, click: input => { if (input.dataset.by !== 'arrow') choose(g.key); } }))));
}
const lead = g => g.label.replace(/ of .*/, '');
function table(scale) {
  const rows = [scale.normal ? ['normal', scale.normal] : null, ...scale.grades.map(g => [g.label, g.wording === g.label ? '' : g.wording])].filter(Boolean);
  return el('dl', { class: 'scale-table' }, ...rows.flatMap(([label, words]) => [el('dt', {}, label), el('dd', {}, words)]));
}
function drawing(model, key, scale) {
  const src = model.data.urls[`drawing-${key}`];
  const row = ['1', '3', '5', '7', '9'];
  return el('figure', { class: 'scale-picture' }, el('img', { src, alt: `${scale.title}: ${row.join(', ')} from above and from the left side`, width: 960, height: 246 }));
}
function about(scale) {
  const sure = { memory: 'From memory, to be checked against the source.', restated: 'Read as restated by others.' }[scale.certainty];
  return el('div', { class: 'scale-about small' }, scale.note ? el('p', {}, scale.note) : null,
    el('p', { class: 'quiet' }, `${upper(scale.version)}. Source: ${scale.source}. ${sure ?? ''}`), el('p', { class: 'quiet' }, `May be shown: ${scale.permission}.`));
}
/* Arrows move the choice inside the dialog without taking it; Enter, Space or a tap takes it. */
document.addEventListener('keydown', event => {
  const on = document.activeElement;
  if (!on?.matches?.('.scale-sheet [name=scale-step]')) return;
  if (/^Arrow/.test(event.key)) for (const step of $$('.scale-sheet [name=scale-step]')) { step.dataset.by = 'arrow'; setTimeout(() => { delete step.dataset.by; }); }
  if (event.key === 'Enter' || event.key === ' ') { event.preventDefault(); on.checked = true; on.click(); }
});
