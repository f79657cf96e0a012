/* The exam page. Every tap is an operation: put on the screen, kept on the tablet, then sent (sync.js). */

import { $, $$, button, el, lower, many, pick, reshape, shape, upper } from './dom.js';
import { Foot } from './foot.js';
import { Model } from './model.js';
import { Panels } from './panel.js';
import { Queue } from './queue.js';
import { build, redraw } from './station.js';
import { Sync } from './sync.js';
import { place, say } from './words.js';
import { keys } from './keys.js';

const data = JSON.parse($('#exam-data').textContent);
const app = {
  data,
  model: new Model(data),
  seen: new Set(), /* structures that were on screen */
  codes: data.walk.stations.map(s => s.code),

  /* Reasons that this person may give for a line not examined, the commonest first. */
  reasons: () => data.walk.reasons.filter(r => r.use.includes('not-examined') && !r.needs_words && (!r.roles.length || r.roles.includes(data.me.role))),
  nextOf: code => app.codes[app.codes.indexOf(code) + 1],
  say(words) { $('#said').textContent = words; },

  choose(line, value) {
    app.panels.close();
    if (value === 'normal') app.normal(line, {});
    else if (value === 'abnormal') {
      const before = app.model.stored(line);
      app.sync.add(app.model.make(line.key, 'set_abnormal', { findings: before?.status === 'abnormal' ? before.findings ?? [] : [] }));
      app.panels.open(line.key, 'abnormal');
    } else {
      app.sync.add(app.model.make(line.key, 'set_not_examined', { reason: '', words: '' }));
      app.panels.open(line.key, 'unseen');
    }
  },

  /* Nothing is normal beside an unanswered heads-up unless somebody was asked and said so. */
  normal(line, more, despite = []) {
    const codes = new Set([line.key, ...line.stored_at].map(k => k.split('.')[0]));
    const open = [...codes].flatMap(code => app.model.openFlags(code)).filter(h => !despite.includes(h.id));
    if (!open.length) { app.sync.add(app.model.make(line.key, 'set_normal', { ...more, ...(despite.length ? { despite } : {}) })); return; }
    app.refresh();
    app.wrong(line.key, `Heads-up not answered: ${open[0].words} `, button('Normal all the same', () => { app.wrong(line.key, ''); app.normal(line, more, open.map(h => h.id)); }, 'button-plain'));
  },
  groupNormal(lines) {
    const code = app.model.station.get(lines[0].key);
    if (app.model.openFlags(code).length) { app.wrongGroup(lines[0].structure, 'Answer the heads-up above first.'); app.refresh(); return; }
    app.sync.add(app.model.make(lines[0].structure, 'station_all_normal', { lines: lines.map(line => line.key) }));
  },

  /* There is none of it: a fact of the patient, kept at once. It needs the network and says so. */
  async none(line, why, whole) {
    try {
      const token = (await (await fetch(data.urls.token)).json()).token;
      const body = new URLSearchParams({ line: line.key, why, whole: whole ? '1' : '' });
      const answer = await fetch(data.urls.none, { method: 'POST', body, headers: { 'X-CSRFToken': token, Accept: 'application/json' } });
      if (!answer.ok) throw new Error(await answer.text());
      location.hash = app.model.station.get(line.key);
      location.reload();
    } catch {
      app.wrong(line.key, 'That there is none is kept with the patient, which needs the network and a clinician. Nothing was changed.');
    }
  },

  wrong(key, words, ...more) { wrongAt(`.choice[data-key="${CSS.escape(key)}"]`, words, more); },
  wrongGroup(structure, words) { wrongAt(`.choice[data-group="${CSS.escape(structure)}"]`, words, []); },

  open(code, block = 'start') {
    const station = document.getElementById(code);
    if (!station.open) station.open = true;
    build(app, code);
    refreshStation(code);
    if (block === 'start') station.scrollIntoView({ block: 'start' });
  },
  openNext(code) {
    const next = app.nextOf(code);
    if (next) { app.open(next); $('summary', document.getElementById(next)).focus({ preventScroll: true }); }
    else { document.getElementById(code).open = false; $('#close').scrollIntoView(); $('#go-on').focus({ preventScroll: true }); }
  },
  refresh() {
    for (const code of app.codes) refreshStation(code);
    refreshClose();
    $('#back').hidden = !app.model.past.length;
  },
};
app.panels = new Panels(app);
app.foot = new Foot(app);
app.sync = new Sync(app.model, new Queue(data.visit), { says: showKept, changed: () => app.refresh(), refused, trouble });

function wrongAt(selector, words, more) {
  const choice = $(selector);
  if (!choice) return;
  let place = $('.field-error', choice);
  if (!place) { place = el('p', { class: 'field-error small', role: 'status' }); choice.append(place); }
  place.replaceChildren(words, ...more);
}

/* ---- Where the work is ---- */

function showKept(waiting, state) {
  const mark = $('#kept');
  const words = !waiting ? (state === 'offline' ? 'all saved, no network' : 'all saved')
    : state === 'offline' ? `${waiting} waiting for the network` : state === 'signed-out' ? `${waiting} waiting for you to sign in` : state === 'strange' ? `${waiting} waiting for whoever made them` : `saving ${waiting}`;
  if ($('span', mark).textContent === words) return;
  mark.dataset.state = waiting ? 'waiting' : 'kept';
  reshape(mark, waiting ? 'waiting' : 'kept');
  $('span', mark).textContent = words;
}
function trouble(name, words, link) {
  const box = $('#trouble');
  $(`[data-trouble="${name}"]`, box)?.remove();
  if (!words) return;
  const href = link && (link === location.pathname ? link : `${link}?next=${encodeURIComponent(location.pathname + location.hash)}`);
  box.append(el('p', { class: 'notice notice-danger', data: { trouble: name } }, shape('danger'), el('span', {}, words), href ? el('a', { class: 'button', href }, name === 'signed' ? 'Reload' : 'Sign in') : null));
}

/* ---- What the server refused ---- */

function refused(op, answer) {
  const line = app.model.linesOf(op.target)[0], where = line ? place(line) : app.model.stations.get(op.target)?.title ?? 'The exam';
  if (answer.reason === 'stale' && line && op.what !== 'take_back') clash(op, answer, line);
  else if (op.what === 'measure' && answer.reason === 'ask-once') {
    const choice = $(`.choice[data-key="${CSS.escape(op.target)}"]`);
    app.wrong(op.target, `${answer.words} `, button('Yes, I looked twice', () => choice.again(), 'button-plain'));
  } else if (line && $(`.choice[data-key="${CSS.escape(line.key)}"]`)) app.wrong(line.key, `Not saved: ${answer.words}`);
  else trouble(op.target, `${where}: not saved. ${answer.words}`);
  app.say(`${where}: not saved. ${answer.words}`);
}

/* Two people, one line: both values are shown, and somebody chooses. */
function clash(op, answer, line) {
  const box = $('#clashes'), theirs = answer.theirs?.[line.key];
  $(`[data-clash="${CSS.escape(op.target)}"]`, box)?.remove();
  const who = app.model.server.people[theirs?.person] ?? 'Somebody else';
  const mine = app.model.effect(op).answers.values().next().value;
  const words = value => (value ? say(app.model, value) : 'not looked at yet');
  const card = el('div', { class: 'notice notice-look clash', data: { clash: op.target } }, shape('flag'),
    el('div', {}, el('p', {}, el('b', {}, `${place(line)}: somebody else changed this.`)), el('p', {}, `${who}: ${words(theirs)}`), el('p', {}, `You: ${words(mine)}`)),
    el('div', { class: 'picks' }, button('Keep theirs', () => { card.remove(); app.panels.close(); app.refresh(); }), button('Keep mine', () => { card.remove(); app.sync.add(app.model.make(op.target, op.what, op.payload)); })));
  box.append(card);
  card.scrollIntoView({ block: 'nearest' });
}

/* ---- Rail, stations, signing ---- */

function refreshStation(code) {
  const { model } = app, told = model.digest(code), flagged = model.openFlags(code).length, station = document.getElementById(code), rail = $(`[data-rail="${code}"]`);
  for (const part of [rail, station]) { part.dataset.state = told.state; reshape($('.shape', part), told.state); }
  $('.rail-state', rail).replaceChildren(flagged ? el('span', { class: 'rail-flag' }, shape('flag'), el('span', { class: 'vh' }, 'heads-up, '), told.state === 'new' || told.state === 'begun' ? told.words : 'heads-up') : told.words);
  const line = $('.station-line', station);
  line.replaceChildren(...stationWords(code, told, station.open));
  if (flagged && !station.open) line.append(el('span', { class: 'station-flag' }, shape('flag'), 'heads-up'));
  $('.station-verb', station).textContent = station.open ? 'close' : 'open';
  if (station.open) { redraw(app, code); app.foot.refresh(code); }
}
function stationWords(code, told, open) {
  if (open || told.state === 'begun') return [`${told.total - told.left} of ${told.total} looked at`];
  if (told.state === 'new') return [told.words];
  const { model } = app, groups = new Map();
  for (const line of model.stations.get(code).lines) {
    const answer = model.shown(line.key);
    if (answer && model.isAbnormal(answer)) { const words = say(model, answer), key = `${line.structure}|${words}`; groups.set(key, { line, words, sides: [...(groups.get(key)?.sides ?? []), line.side_words] }); }
  }
  const found = [...groups.values()].map(({ line, words, sides }) => [lower(line.name), sides.length > 1 && sides.length === 2 ? 'both' : sides.join(' and '), words].filter(Boolean).join(', '));
  const parts = [];
  if (found.length) parts.push(el('span', { class: 'is-look' }, found.slice(0, 4).join('; ') + (found.length > 4 ? `; ${found.length - 4} more` : '')));
  const rest = [told.unseen && `${told.unseen} not examined`, told.normal + told.measured && (found.length || told.unseen ? 'the rest normal' : 'all normal'), told.together && 'marked together'].filter(Boolean).join('; ');
  if (rest) parts.push(found.length ? `; ${rest}` : rest);
  return parts;
}

function refreshClose() {
  const { model } = app, digests = app.codes.map(code => [code, model.digest(code)]);
  const left = digests.reduce((sum, [, d]) => sum + d.left, 0);
  $('#left-total').textContent = left;
  const flags = model.openFlags();
  const answers = [...model.answers.values()];
  const bare = answers.filter(a => (a.status === 'not-examined' || a.in_part) && !a.reason && !a.reason_words && !(a.findings ?? []).length).length;
  const empty = answers.filter(a => a.status === 'abnormal' && !(a.findings ?? []).length).length;
  const items = [
    model.kind !== 'focused' && left && ['new', `${many(left, 'structure')} not yet looked at: ${digests.filter(([, d]) => d.left).map(([code]) => lower(model.stations.get(code).short)).join(', ')}`],
    flags.length && ['flag', `${many(flags.length, 'heads-up')} to answer: ${flags.map(h => lower(model.stations.get(h.station)?.short ?? 'no station')).join(', ')}`],
    bare && ['unseen', `${many(bare, 'line')} not examined or in part, still without a reason`],
    empty && ['abnormal', `${many(empty, 'line')} abnormal, without saying what`],
  ].filter(Boolean);
  $('#close-list').replaceChildren(...(items.length ? items : [['normal', 'Everything is answered.']]).map(([mark, words]) => el('li', {}, el('span', { class: 'mark' }, shape(mark, true), el('span', {}, words)))));
  $('#go-on').classList.toggle('button-main', !items.length);
  const sign = $('[data-rail=close]');
  sign.dataset.state = items.length ? 'new' : 'normal';
  reshape(sign, items.length ? 'new' : 'normal');
  $('.rail-state', sign).textContent = items.length ? 'not yet' : 'ready';
  refreshFocus(digests);
  $('#kind-words').textContent = model.kind === 'full' ? 'Full walk' : `${upper(model.kind)}${model.kindReason ? `: ${model.kindReason}` : ''}`;
  $('#kind-change').hidden = !data.me.assesses;
}
/* Stations nobody opened are answered together, with one reason, never as normal. */
function refreshFocus(digests) {
  const box = $('#focus'), closed = digests.filter(([code, d]) => d.left + d.rest && !$('.lines', document.getElementById(code)) && !app.model.openFlags(code).length && (app.model.kind !== 'full' || d.state === 'new')).map(([code]) => code);
  box.hidden = app.model.kind === 'full' || !closed.length || !data.me.assesses;
  $('p', box).textContent = `${many(closed.length, 'station')} not opened: ${closed.map(code => lower(app.model.stations.get(code).short)).join(', ')}. They can be answered together, as not examined, with one reason.`;
  box.dataset.codes = closed.join(' ');
}
$('#focus-reasons').append(...app.reasons().filter(r => ['not-part', 'urgent-visit', 'would-not-allow', 'owner-declined'].includes(r.key)).map(r => button(r.words, () => {
  for (const code of $('#focus').dataset.codes.split(' ').filter(Boolean)) app.sync.add(app.model.make(code, 'station_rest_not_examined', { reason: r.key, all: true }));
})));

/* ---- Which kind of exam ---- */

const kinds = $('#kind-dialog');
$('#kind-stations').append(...data.walk.stations.map(s => pick({ type: 'checkbox', name: 'station', value: s.code, words: s.short, mark: 'normal' })));
$('#kind-change').addEventListener('click', () => {
  const form = $('#kind-form');
  form.elements.kind.value = app.model.kind;
  form.elements.reason.value = app.model.kindReason ?? '';
  for (const box of $$('[name=station]', form)) box.checked = app.model.chosen.includes(box.value);
  $('#kind-stations').hidden = app.model.kind !== 'focused';
  $('#kind-error').textContent = '';
  kinds.showModal();
});
$('#kind-form').addEventListener('change', event => { if (event.target.name === 'kind') $('#kind-stations').hidden = event.target.value !== 'focused'; });
$('#kind-form').addEventListener('submit', event => {
  const form = event.target, kind = form.elements.kind.value, reason = form.elements.reason.value.trim();
  if (event.submitter?.value !== 'save') return;
  const stations = kind === 'focused' ? $$('[name=station]:checked', form).map(box => box.value) : [];
  const lacks = kind !== 'full' && !reason ? 'Say why this is not a full walk.' : kind === 'focused' && !stations.length ? 'Choose at least one station.' : '';
  if (lacks) { event.preventDefault(); $('#kind-error').textContent = lacks; return; }
  app.sync.add(app.model.make('exam', 'set_kind', { kind, stations, reason: kind === 'full' ? '' : reason }));
});

/* ---- Start ---- */

$('#back').addEventListener('click', () => {
  const target = app.sync.takeBack();
  if (!target) return;
  app.panels.close();
  const code = app.model.linesOf(target)[0] ? app.model.station.get(app.model.linesOf(target)[0].key) : target.split(/[.|]/)[0];
  if (app.codes.includes(code)) app.open(code, 'nearest');
  app.refresh();
  app.say('Taken back.');
});
for (const code of app.codes) {
  const station = document.getElementById(code), rail = $(`[data-rail="${code}"]`);
  station.addEventListener('toggle', () => {
    if (station.open) { build(app, code); rail.setAttribute('aria-current', 'step'); history.replaceState(null, '', `#${code}`); } else rail.removeAttribute('aria-current');
    refreshStation(code);
  });
  rail.addEventListener('click', event => { event.preventDefault(); app.open(code); });
}
keys(app);
if (!isSecureContext) trouble('insecure', 'This address is not secure, so taps can wait on this tablet only while the page stays open.');
app.refresh();
const first = app.codes.includes(location.hash.slice(1)) ? location.hash.slice(1) : app.codes.find(code => app.model.digest(code).left) ?? '';
if (first) app.open(first, location.hash ? 'start' : 'none');
app.sync.queue.open().then(() => app.sync.start());
