/* A second pair of eyes: heads-ups at their station, answered there, and pinned there from any tablet. */

import { $, button, el, pick, shape } from './dom.js';
import { uuid } from './model.js';
import { clock } from './words.js';

const MOST = 500;
const ANSWERS = [['found', 'found', 'found, recorded below', 'abnormal'], ['looked', 'nothing', 'looked, found nothing', 'normal'], ['not-today', 'not-today', 'not today, because…', 'unseen']];

/* Drawn anew only when something of it changed, so that words being typed stay. */
export function flags(app, root, code) {
  const box = $('.flags', root), { model } = app;
  const here = [...model.headsUps.values()].filter(h => h.station === code);
  const state = JSON.stringify([here.map(h => [h.id, h.answer, h.reason, h.waits]), model.data.me.answers]);
  if (box.dataset.shows === state) return;
  const news = here.filter(h => !h.answer && !h.waits && box.dataset.shows && !box.dataset.shows.includes(h.id));
  box.dataset.shows = state;
  box.replaceChildren(...here.map(h => card(app, h)));
  if (news.length) app.say(`Heads-up: ${news[0].words}`);
}

function card(app, h) {
  const { model } = app, time = clock(h.at);
  const from = el('div', {}, el('p', { class: 'small' }, `Heads-up from ${h.by}, ${time}${h.side ? `, ${h.side}` : ''}${h.waits ? '; not saved yet' : ''}`), el('blockquote', {}, h.words));
  const made = el('div', { class: 'notice notice-look headsup', data: { flag: h.id } }, shape('flag'), from);
  if (h.answer) made.dataset.answered = '';
  if (h.answer === 'elsewhere') { from.append(el('p', { class: 'small' }, `Wrong patient: it ${h.reason}.`)); return made; }
  const why = el('input', { type: 'text', autocomplete: 'off', maxlength: 200 }), wants = el('p', { class: 'field-error small', role: 'status' });
  const field = el('label', { class: 'field flag-why', hidden: h.answer !== 'not-today' }, el('span', {}, 'Not today, because'), why);
  why.value = h.reason;
  const answer = (value, words = '') => app.sync.add(model.make(h.id, 'answer_heads_up', { answer: value, words }));
  why.addEventListener('change', () => { wants.textContent = ''; if (why.value.trim()) answer('not-today', why.value.trim()); else wants.textContent = 'Say why not today.'; });
  const picks = ANSWERS.map(([kept, sent, words, mark]) => pick({
    name: `flag-${h.id}`, words, mark, checked: h.answer === kept,
    change: () => { field.hidden = sent !== 'not-today'; if (sent === 'not-today') why.focus(); else answer(sent); } }));
  const set = el('fieldset', { class: 'picks' }, el('legend', { class: 'vh' }, `Your answer to: ${h.words}`), ...picks, field, wants);
  set.disabled = !model.data.me.answers;
  made.append(set);
  if (!h.answer && !model.data.me.answers) from.append(el('p', { class: 'small' }, 'A clinician answers it.'));
  return made;
}

/* "Pin a heads-up here": one sentence, with its side where the station has two. */
export function pinner(app, code) {
  const { model } = app, sided = model.stations.get(code).lines.some(line => line.side === 'left');
  const words = el('input', { type: 'text', autocomplete: 'off', maxlength: MOST }), wants = el('p', { class: 'field-error small', role: 'status' });
  let side = '';
  const sides = sided ? el('fieldset', { class: 'picks' }, el('legend', { class: 'vh' }, 'Side'), ...['left', 'right'].map(s => pick({ type: 'radio', name: `pin-side-${code}`, words: s, mark: 'normal', click: input => { side = side === s ? '' : s; input.checked = side === s; } }))) : null;
  const form = el('div', { class: 'pin-form', hidden: true }, el('label', { class: 'field' }, el('span', {}, 'One sentence, as you saw it'), words), sides, button('Pin it', () => pin(), 'button-main'), button('Close', () => open(false)), wants);
  const opens = button('Pin a heads-up here', () => open(form.hidden), 'button-plain');
  opens.setAttribute('aria-expanded', 'false');
  function open(on) {
    form.hidden = !on;
    opens.setAttribute('aria-expanded', String(on));
    (on ? words : opens).focus();
  }
  function pin() {
    if (!words.value.trim()) { wants.textContent = 'Say in one sentence what you saw.'; words.focus(); return; }
    app.sync.add(model.make(uuid(), 'pin_heads_up', { station: code, words: words.value.trim(), ...(side ? { side } : {}) }));
    app.say('Pinned. It stands here until a clinician answers it.');
    wants.textContent = words.value = '';
    side = '';
    for (const input of sides?.querySelectorAll('input') ?? []) input.checked = false;
    open(false);
  }
  words.addEventListener('keydown', event => { if (event.key === 'Enter') { event.preventDefault(); pin(); } else if (event.key === 'Escape') open(false); });
  return el('div', { class: 'pinner' }, opens, form);
}
