/* The exam page. Every tap is an operation: put on the screen, kept on the tablet, then sent (sync.js). */

import { Awake } from './awake.js';
import { $, $$, button, el, lower, many, plainName, reshape, shape, upper, write } from './dom.js';
import { Entering } from './entering.js';
import { plainEntry } from './finding.js';
import { Foot } from './foot.js';
import { none } from './gone.js';
import { Here } from './here.js';
import { LUMP } from './lump-model.js';
import { Lumps } from './lumps.js';
import { Model, unpacked } from './model.js';
import { Panels } from './panel.js';
import { Photos } from './photos.js';
import { Queue } from './queue.js';
import { build, redraw } from './station.js';
import { showKind } from './kind.js';
import { InShort } from './summary.js';
import { Sync } from './sync.js';
import { place, say, valueWords } from './words.js';
import { keys } from './keys.js';
import { Later, art } from './later.js';

const data = { ...JSON.parse($('#exam-data').textContent), walk: unpacked(JSON.parse($('#walk-data').textContent)) };
const app = {
  data,
  model: new Model(data),
  seen: new Set(), /* structures that were on screen */
  codes: data.order, /* as this person walks */
  sure: ['side-named', 'abbreviation', 'contradiction', 'sex-record'], /* questions: the same tap again, with a yes */

  /* Reasons that this person may give for a line not examined, the commonest first. */
  reasons: () => data.walk.reasons.filter(r => r.use.includes('not-examined') && !r.needs_words && (!r.roles.length || r.roles.includes(data.me.role))),
  nextOf: code => app.codes[app.codes.indexOf(code) + 1],
  say(words) { $('#announced').textContent = words; },

  choose(line, value) {
    app.panels.close();
    if (value === 'abnormal' && line.structure === 'SKN.lumps') { app.refresh(); app.lumps.wanted(); return; }
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

  none: (line, why, whole) => none(app, line, why, whole),

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
    const kg = app.model.answers.get('VIT.weight|-'), facts = $('#bar-facts');
    if (kg?.value && !kg.waits && facts) write(facts, facts.textContent.replace(/, [^,]*$/, `, ${valueWords(app.model, kg)} today`)); /* clinic/visits/frame.py: the weight stands last */
    $('#back').hidden = !app.model.past.length;
    app.entering?.look();
    app.inShort?.look();
    app.photos.look();
    app.talk.look();
  },
};
app.later = new Later({
  teeth: () => Promise.all([import('./teeth.js'), art(data.teeth.drawing)]).then(([module, drawing]) => { module.drawn(drawing); return module; }),
  map: () => import('./lump-map.js'),
  lump: () => import('./lump-form.js').then(({ LumpForm }) => new LumpForm(app.lumps)),
  photo: () => import('./photo-view.js'),
  kind: () => import('./kind-dialog.js').then(({ kindDialog }) => kindDialog(app)),
  talk: () => import('./talk.js').then(({ Talk }) => { app.talk = new Talk(app); app.refresh(); return app.talk; }),
});
app.panels = new Panels(app);
app.awake = new Awake(app);
app.foot = new Foot(app);
app.lumps = new Lumps(app);
/* Until the talk has come nothing of it is open here: where something is, it is fetched at once. */
const talk = () => app.later.fetch('talk').catch(() => null), talkFirst = location.hash === '#talk';
app.talk = {
  look() { if ((app.model.server.talk_changes ?? 0) > data.talk.changes) talk(); },
  refused: (op, answer) => op.target === 'talk' && Boolean(talk().then(part => part?.refused(op, answer))),
  count: () => 0, leftWords: () => '', drawAt() {},
};
app.photos = new Photos(app, { trouble, says: () => app.sync.say() });
app.sync = new Sync(app.model, new Queue({ visit: data.visit, name: $('.bar-name').textContent.trim(), page: location.pathname, send: data.urls.send, token: data.urls.token }), { says: showKept, changed: () => app.refresh(), refused, trouble });

function wrongAt(selector, words, more) {
  const choice = $(selector);
  if (!choice) return;
  let place = $('.field-error', choice);
  if (!place) { place = el('p', { class: 'field-error small', role: 'status' }); choice.append(place); }
  place.replaceChildren(words, ...more);
}

/* ---- Where the work is ---- */

function showKept(waiting, state) {
  const mark = $('#kept'), pictures = app.photos.words();
  let words = !waiting && pictures ? `${pictures} waiting${state === 'offline' ? ' for the network' : ''}` : !waiting ? (state === 'offline' ? 'all saved, no network' : 'all saved')
    : state === 'offline' ? `${waiting} waiting for the network` : state === 'signed-out' ? `${waiting} waiting for you to sign in` : state === 'strange' ? `${waiting} waiting for whoever made them` : `saving ${waiting}`;
  if (pictures && waiting) words = words.replace(String(waiting), waiting + parseInt(pictures, 10)); /* together: the banner has little room */
  if ($('span', mark).textContent === words) return;
  mark.dataset.state = waiting || pictures ? 'waiting' : 'kept';
  reshape(mark, waiting || pictures ? 'waiting' : 'kept');
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
  if (app.talk.refused(op, answer)) return;
  if (op.target.startsWith(LUMP) && app.lumps.refused(op, answer)) return;
  const line = app.model.linesOf(op.target)[0], where = line ? place(line) : app.model.stations.get(op.target)?.title ?? 'The exam';
  if (answer.reason === 'stale' && line) clash(op, answer, line);
  else if (op.what === 'measure' && answer.reason === 'ask-once') {
    const choice = $(`.choice[data-key="${CSS.escape(op.target)}"]`);
    app.wrong(op.target, `${answer.words} `, button('Yes, I looked twice', () => choice.again(), 'button-plain'));
  } else if (line && app.sure.includes(answer.reason)) {
    app.wrong(line.key, `Not saved yet. ${answer.words} `, button('Yes, it is so', () => { app.wrong(line.key, ''); app.sync.add(app.model.make(op.target, op.what, { ...op.payload, sure: true })); }, 'button-plain'));
  } else if (line && $(`.choice[data-key="${CSS.escape(line.key)}"]`)) app.wrong(line.key, `Not saved: ${answer.words}`);
  else trouble(op.target, `${where}: not saved. ${answer.words}`);
  app.say(`${where}: not saved. ${answer.words}`);
}

/* Two people, one line: both values are shown, and somebody chooses. */
function clash(op, answer, line) {
  const box = $('#clashes'), theirs = answer.theirs?.[line.key];
  const former = $(`[data-clash="${CSS.escape(op.target)}"]`, box);
  if (former) { former.remove(); app.sync.chosen(former.op); } /* what was tapped after it stands for it */
  const who = app.model.server.people[theirs?.person] ?? 'Somebody else';
  const mine = app.model.effect(op).answers.values().next().value;
  const words = value => (value ? say(app.model, value) : 'not looked at yet'), back = op.what === 'take_back';
  const card = el('div', { class: 'notice notice-look clash', data: { clash: op.target } }, shape('flag'),
    el('div', {}, el('p', {}, el('b', {}, `${place(line)}: somebody else changed this.`)), el('p', {}, `${who}: ${words(theirs)}`), el('p', {}, back ? `You: taken back, so that it reads: ${words(op.before?.[0]?.[1])}` : `You: ${words(mine)}`)),
    el('div', { class: 'picks' }, button('Keep theirs', () => { card.remove(); app.sync.chosen(op); app.panels.close(); app.refresh(); }), button('Keep mine', () => { card.remove(); app.sync.chosen(op); app.sync.add(back ? restored(op) : app.model.make(op.target, op.what, op.payload)); })));
  card.op = op;
  box.append(card);
  card.scrollIntoView({ block: 'nearest' });
}

/* What was taken back, said as an answer of its own: the other's value came between, so there is nothing to undo. */
function restored(op) {
  const was = op.before?.[0]?.[1];
  if (!was) return app.model.make(op.target, 'clear');
  const why = { reason: was.reason ?? '', words: was.reason_words ?? '' }, findings = (was.findings ?? []).map(plainEntry);
  if (was.status === 'not-examined') return app.model.make(op.target, 'set_not_examined', { ...why, findings });
  return app.model.make(op.target, was.status === 'normal' ? 'set_normal' : 'set_abnormal', { findings, ...(was.in_part ? { in_part: why } : {}) });
}

/* ---- Rail, stations, signing ---- */

function refreshStation(code) {
  const { model } = app, told = model.digest(code), flagged = model.openFlags(code).length, heard = app.talk.count(code), unkept = app.lumps.unkept(code).length, station = document.getElementById(code);
  if (station.open) { redraw(app, code); app.foot.refresh(code); }
  const same = station.told === told && station.flagged === flagged && station.heard === heard && station.unkept === unkept && station.wasOpen === station.open; /* a digest is made anew when a line of it changed */
  Object.assign(station, { told, flagged, heard, unkept, wasOpen: station.open });
  if (same) return;
  const shows = JSON.stringify([told, flagged, heard, unkept, station.open, !station.open && told.abnormal && foundAt(code)]);
  if (station.shows === shows) return;
  station.shows = shows;
  const rail = $(`[data-rail="${code}"]`);
  for (const part of [rail, station]) { part.dataset.state = told.state; reshape($('.shape', part), told.state); }
  $('.rail-state', rail).replaceChildren(flagged ? el('span', { class: 'rail-flag' }, shape('flag'), el('span', { class: 'vh' }, 'heads-up, '), told.state === 'new' || told.state === 'begun' ? told.words : 'heads-up') : told.words);
  const line = $('.station-line', station);
  line.replaceChildren(...stationWords(code, told, station.open));
  if (flagged && !station.open) line.append(el('span', { class: 'station-flag' }, shape('flag'), 'heads-up'));
  if (unkept && !station.open) line.append(el('span', { class: 'station-flag' }, shape('waiting'), 'a lump’s size not kept yet'));
  if (heard) line.append(el('span', { class: 'station-heard' }, shape('heard'), `${heard} heard`));
  write($('.station-verb', station), station.open ? 'close' : 'open');
}
function stationWords(code, told, open) {
  if (open || told.state === 'begun') return [`${told.total - told.left} of ${told.total} looked at`];
  if (told.state === 'new') return [told.words];
  const found = foundAt(code), parts = [];
  if (found.length) parts.push(el('span', { class: 'is-look' }, found.slice(0, 4).join('; ') + (found.length > 4 ? `; ${found.length - 4} more` : '')));
  const rest = [told.unseen && `${told.unseen} not examined`, told.normal + told.measured && (found.length || told.unseen ? 'the rest normal' : told.rest ? 'routine lines normal' : 'all normal'), told.rest && `on indication, not looked at: ${calledFor(told)}`, told.together && 'marked together', told.spoken && 'spoken'].filter(Boolean).join('; ');
  if (rest) parts.push(found.length ? `; ${rest}` : rest);
  return parts;
}
/* Lines that only some animals need, and that nobody answered: no part of what one tap calls normal. */
const nameOf = structure => lower(plainName([...app.model.lines.values()].find(line => line.structure === structure).name));
function calledFor(told) {
  const names = [...new Set(told.called)].map(nameOf);
  return names.slice(0, 3).join(', ') + (names.length > 3 ? ` and ${names.length - 3} more` : '');
}
/* What is abnormal at a station, line by line in words. */
function foundAt(code) {
  const { model } = app, groups = new Map();
  for (const line of model.stations.get(code).lines) {
    const answer = model.shown(line.key);
    if (answer && model.isAbnormal(answer)) { const words = say(model, answer), key = `${line.structure}|${words}`; groups.set(key, { line, words, sides: [...(groups.get(key)?.sides ?? []), line.side_words] }); }
  }
  return [...groups.values()].map(({ line, words, sides }) => [lower(line.name), sides.length > 1 && sides.length === 2 ? 'both' : sides.join(' and '), words].filter(Boolean).join(', '));
}

/* Where it is answered: the stations by name, each a tap away; with `keys` the first of these lines there. */
function goTo(codes, keys = [], kind = '') {
  const { stations, lines } = app.model;
  const links = [...new Set(codes)].map(code => {
    const link = stations.has(code) ? el('a', { class: 'text-link', href: `#${code}` }, lower(stations.get(code).short)) : 'no station';
    const key = keys.find(each => each.startsWith(`${code}.`)), line = key && [...lines.values()].find(each => each.stored_at.includes(key));
    if (line) link.addEventListener('click', event => { event.preventDefault(); app.open(code); app.panels.open(line.key, kind); });
    return link;
  });
  return links.length ? [': ', el('span', { class: 'go-to' }, ...links)] : [];
}

function refreshClose() {
  const { model } = app, digests = app.codes.map(code => [code, model.digest(code)]);
  const left = digests.reduce((sum, [, d]) => sum + d.left, 0);
  write($('#left-total'), String(left));
  const bare = digests.flatMap(([code, d]) => [...d.bare].map(structure => [code, structure])), must = left - bare.length;
  const flags = model.openFlags();
  const answers = [...model.answers], stationOf = ([key]) => key.split('.')[0];
  const whyless = answers.filter(([, a]) => (a.status === 'not-examined' || a.in_part) && !a.reason && !a.reason_words && !(a.findings ?? []).length);
  const empty = answers.filter(([, a]) => a.status === 'abnormal' && !(a.findings ?? []).length);
  const items = [
    model.kind === 'full' && must && ['new', `${many(must, 'structure')} not yet looked at`, digests.filter(([, d]) => d.left > d.bare.size).map(([code]) => code)],
    flags.length && ['flag', `${many(flags.length, 'heads-up')} to answer`, flags.map(h => h.station)],
    whyless.length && ['unseen', `${many(whyless.length, 'line')} not examined or in part, still without a reason`, whyless.map(stationOf), whyless.map(([key]) => key), 'unseen'],
    empty.length && ['abnormal', `${many(empty.length, 'line')} abnormal, without saying what`, empty.map(stationOf), empty.map(([key]) => key), 'abnormal'],
    app.talk.count() && ['heard', app.talk.leftWords()],
    app.lumps.leftWords() && ['new', app.lumps.leftWords(), ['SKN']],
    app.lumps.unkeptWords() && ['waiting', app.lumps.unkeptWords(), ['SKN']],
  ].filter(Boolean);
  const reminds = bare.filter(([, structure]) => structure !== 'BCM.growth'), names = [...new Set(reminds.map(([, structure]) => nameOf(structure)))].join(', '); /* growth is read off the weights */
  const aside = model.kind === 'focused' ? digests.filter(([code, d]) => model.chosen.includes(code) && d.left > d.bare.size).map(([code]) => code) : [];
  const reminders = aside.length ? [['unseen', 'Chosen for this visit, and not all looked at. This does not hold the signature up; signing says “not part of this visit”', aside]] : model.kind === 'full' && reminds.length ? [['unseen', `Not measured: ${names}. This does not hold the signature up; the letter calls none of it normal`, reminds.map(([code]) => code)]] : [];
  const list = $('#close-list'), shows = JSON.stringify([items, reminders]);
  if (list.shows !== shows) {
    list.shows = shows;
    list.replaceChildren(...[...(items.length ? items : [['normal', reminders.length ? 'Everything that the signature waits for is answered.' : 'Everything is answered.']]), ...reminders].map(([mark, words, codes, keys, kind]) => el('li', {}, el('span', { class: 'mark' }, shape(mark, true), el('span', {}, words, ...goTo(codes ?? [], keys, kind))))));
  }
  $('#go-on').classList.toggle('button-main', !items.length);
  const sign = $('[data-rail=close]');
  sign.dataset.state = items.length ? 'new' : 'normal';
  reshape(sign, items.length ? 'new' : 'normal');
  write($('.rail-state', sign), items.length ? 'not yet' : 'ready');
  refreshFocus(digests);
  app.awake.refresh();
  showKind(app);
  $('#kind-change').hidden = !data.me.assesses;
}
/* Stations nobody opened are answered together, with one reason, never as normal. */
function refreshFocus(digests) {
  const box = $('#focus'), closed = digests.filter(([code, d]) => d.left + d.rest && !$('.lines', document.getElementById(code)) && !app.model.openFlags(code).length && (app.model.kind !== 'full' || d.state === 'new')).map(([code]) => code);
  box.hidden = app.model.kind === 'full' || !closed.length || !data.me.assesses;
  write($('p', box), `${many(closed.length, 'station')} not opened: ${closed.map(code => lower(app.model.stations.get(code).short)).join(', ')}. They can be answered together, as not examined, with one reason.`);
  box.dataset.codes = closed.join(' ');
}
$('#focus-reasons').append(...app.reasons().filter(r => ['not-part', 'urgent-visit', 'would-not-allow', 'owner-declined'].includes(r.key)).map(r => button(r.words, () => {
  for (const code of $('#focus').dataset.codes.split(' ').filter(Boolean)) app.sync.add(app.model.make(code, 'station_rest_not_examined', { reason: r.key, all: true }));
})));

/* ---- Which kind of exam ---- */

$('#kind-change').addEventListener('click', () => app.later.fetch('kind').then(open => { trouble('kind', ''); open(); }, () => trouble('kind', 'The choice of another kind did not arrive over the network. Nothing was changed; try again when the network is back.')));

/* ---- Start ---- */

$('#back').addEventListener('click', () => {
  const target = app.sync.takeBack();
  if (!target) return;
  app.panels.close();
  const code = app.model.linesOf(target)[0] ? app.model.station.get(app.model.linesOf(target)[0].key) : target.startsWith(LUMP) ? 'SKN' : target.split(/[.|]/)[0];
  if (app.codes.includes(code)) app.open(code, 'nearest');
  app.refresh();
  const line = app.model.linesOf(target)[0]; /* a panel that closed above it has moved the walk */
  if (line) (line.structure === 'MTH.teeth' ? $('.teeth-box .teeth-scroll') : $(`.choice[data-key="${CSS.escape(line.key)}"]`))?.scrollIntoView({ block: 'center' });
  app.say('Taken back.');
});
for (const code of app.codes) {
  const station = document.getElementById(code), rail = $(`[data-rail="${code}"]`);
  station.addEventListener('toggle', () => {
    if (station.open) { build(app, code); rail.setAttribute('aria-current', 'step'); history.replaceState(null, '', `#${code}`); } else rail.removeAttribute('aria-current');
    refreshStation(code);
    app.here?.moved();
  });
  rail.addEventListener('click', event => { event.preventDefault(); app.open(code); });
}
keys(app);
/* A link into this page, as from the list of what is left. */
addEventListener('hashchange', () => { const code = location.hash.slice(1); if (app.codes.includes(code)) app.open(code); });
/* Banner and strip grow with what they have to say; what sticks under them has to know. */
for (const [name, box] of [['--bar', $('.bar-visit')], ['--strip', $('.rail')]]) new ResizeObserver(() => document.documentElement.style.setProperty(name, `${box.offsetHeight}px`)).observe(box);
app.entering = new Entering(app);
app.here = new Here(app);
app.inShort = new InShort(app);
const cannotWait = why => trouble('insecure', `${why} Without the network this page cannot be opened again, so taps cannot wait here: keep the page open until all is saved.`);
if (!isSecureContext) cannotWait('This address is not secure (no https, or a certificate that this tablet does not trust).');
else if (!navigator.serviceWorker) cannotWait('This browser keeps no pages (a private window, perhaps).');
document.addEventListener('no-worker', () => cannotWait('This browser did not let Tailward keep its pages.'));
app.refresh();
const first = app.codes.includes(location.hash.slice(1)) ? location.hash.slice(1) : app.codes.find(code => app.model.digest(code).left) ?? '';
if (first) app.open(first, location.hash ? 'start' : 'none');
app.sync.queue.open().then(() => app.sync.start(Number($('#handover')?.dataset.works?.split(' ')[0]) || 0));
app.photos.start();
$('#talk').addEventListener('focusin', talk, { once: true });
$('#talk').addEventListener('toggle', talk, { once: true });
$('#talk-go').addEventListener('click', () => talk().then(part => part?.show(true)), { once: true });
const draft = (() => { try { return localStorage.getItem(`tailward-talk:${data.visit}`); } catch { return null; } })();
if (data.talk.items.length || draft || talkFirst) talk().then(part => talkFirst && part?.show(true));
app.later.whenIdle();
