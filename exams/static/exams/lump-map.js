/* The body map: one drawing at a time, a tap or a key names the region; the side is said before anything is kept. */

import { $, $$, button, el, pick, picksOf, upper } from './dom.js';
import { LUMP, placeNow } from './lump-model.js';
import { uuid } from './model.js';

const SVG = 'http://www.w3.org/2000/svg';
const VIEWS = [['left', 'Left side'], ['right', 'Right side'], ['above', 'From above'], ['below', 'From below']];
const REACH = [0, 6, 12, 18]; /* px around a finger in which a region is still meant */
const NEAR = 34; /* px: a lump this close may be the one that is meant */
const MIRROR = { left: 'right', right: 'left' };

export class BodyMap {
  /* `places(id)` after a lump was placed or put right; `chooses(id)` when one that is there already was meant. */
  constructor(app, { places, chooses, closes }) {
    Object.assign(this, { app, places, chooses, closes, view: 'left', art: new Map(), moving: '' });
    this.species = app.data.species;
    this.figure = el('figure', { class: 'lump-map', role: 'group' });
    this.ask = el('div', { class: 'lump-ask' });
    this.views = picksOf('Which view?', VIEWS.map(([view, words]) => pick({ name: 'lump-view', words, mark: 'normal', value: view, checked: view === this.view, change: () => this.show(view) })), false);
    this.title = el('p', { class: 'lump-do' });
    this.root = el('div', { class: 'lump-place', hidden: true }, this.title, this.views, this.figure, this.list(), this.ask);
  }
  get model() { return this.app.model; }
  get told() { return this.app.data.lumps; }
  region(drawing, code) { return this.told.regions[drawing]?.[code]; }

  open(moving = '') {
    this.moving = moving;
    const place = moving && placeNow(this.model, moving);
    this.title.textContent = moving ? `Where is ${this.app.lumps.name(moving)}? Tap its place.` : 'Tap where the lump is, or choose the place from the list.';
    this.root.hidden = false;
    this.ask.replaceChildren();
    this.show(place ? place.drawing.split('-')[1] : this.view);
    this.root.scrollIntoView({ block: 'nearest' });
  }
  get asks() { return !this.root.hidden && this.ask.hasChildNodes(); }
  close() { this.root.hidden = true; this.ask.replaceChildren(); this.closes(); }

  /* ---- The drawing ---- */

  async show(view) {
    this.view = view;
    for (const input of $$('input', this.views)) input.checked = input.value === view;
    this.names.replaceChildren(...this.options());
    const svg = await this.drawn(view);
    if (this.view !== view) return;
    this.figure.replaceChildren(...(svg ? [this.sides(view), svg] : [el('p', { class: 'small' }, 'The drawing did not arrive over the network. Choose the place from the list.')]));
    this.figure.dataset.view = view;
    this.figure.setAttribute('aria-label', `${upper(this.species)}, ${VIEWS.find(([v]) => v === view)[1].toLowerCase()}. Arrow keys go from place to place, Enter takes one.`);
    if (svg) this.mark(svg);
  }
  sides(view) {
    const words = { left: ['head', 'left side', 'tail'], right: ['tail', 'right side', 'head'], above: ['its left', 'head up', 'its right'], below: ['its right', 'head up', 'its left'] }[view];
    return el('figcaption', {}, ...words.map(w => el('span', {}, w)));
  }
  async drawn(view) {
    if (this.art.has(view)) return this.art.get(view);
    try {
      const answer = await fetch(this.told.drawings[view]);
      if (!answer.ok) throw new Error(String(answer.status));
      const svg = document.importNode(new DOMParser().parseFromString(await answer.text(), 'image/svg+xml').documentElement, true);
      this.art.set(view, this.ready(svg, `${this.species}-${view}`));
    } catch { return null; }
    return this.art.get(view);
  }
  ready(svg, drawing) {
    for (const name of ['width', 'height', 'aria-labelledby', 'role']) svg.removeAttribute(name);
    for (const part of $$('title, desc', svg)) part.remove();
    svg.setAttribute('class', 'body-map');
    svg.setAttribute('role', 'presentation');
    const paths = $$('.region', svg);
    paths.forEach((path, i) => {
      path.removeAttribute('id');
      path.setAttribute('role', 'button');
      path.setAttribute('tabindex', i ? '-1' : '0');
      path.setAttribute('aria-label', upper(this.region(drawing, path.dataset.region)?.[0] ?? path.dataset.region));
    });
    svg.append(document.createElementNS(SVG, 'g'));
    svg.lastChild.setAttribute('class', 'markers');
    svg.addEventListener('click', event => this.tapped(svg, drawing, event));
    svg.addEventListener('keydown', event => this.keyed(paths, drawing, event));
    return svg;
  }
  mark(svg) {
    const { width, height } = svg.viewBox.baseVal, drawing = `${this.species}-${this.view}`;
    const scale = width / (svg.getBoundingClientRect().width || width);
    $('.markers', svg).replaceChildren(...this.app.lumps.here().filter(id => placeNow(this.model, id)?.drawing === drawing).map(id => {
      const place = placeNow(this.model, id), g = document.createElementNS(SVG, 'g'), [circle, text] = ['circle', 'text'].map(tag => document.createElementNS(SVG, tag));
      const [x, y] = [place.x * width, place.y * height];
      g.setAttribute('class', 'marker');
      circle.setAttribute('cx', x); circle.setAttribute('cy', y); circle.setAttribute('r', 15 * scale);
      text.setAttribute('x', x); text.setAttribute('y', y + 5.5 * scale); text.setAttribute('font-size', 16 * scale);
      text.textContent = this.app.lumps.badge(id);
      g.append(circle, text);
      return g;
    }));
  }
  keyed(paths, drawing, event) {
    const at = paths.indexOf(event.target), step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (at < 0) return;
    if (step) {
      const next = paths[(at + step + paths.length) % paths.length];
      paths.forEach(p => p.setAttribute('tabindex', p === next ? '0' : '-1'));
      next.focus();
    } else if (event.key === 'Enter' || event.key === ' ') {
      const [, , , x, y] = this.region(drawing, event.target.dataset.region);
      this.confirm({ drawing, region: event.target.dataset.region, x, y });
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }
  tapped(svg, drawing, event) {
    const hit = regionAt(svg, event.clientX, event.clientY);
    if (!hit) return;
    const [path, x, y] = hit, point = new DOMPoint(x, y).matrixTransform(svg.getScreenCTM().inverse()), { width, height } = svg.viewBox.baseVal;
    const part = value => Math.round(Math.min(1, Math.max(0, value)) * 1000) / 1000;
    this.confirm({ drawing, region: path.dataset.region, x: part(point.x / width), y: part(point.y / height) }, this.near(svg, drawing, event));
  }
  near(svg, drawing, event) {
    const { width, height } = svg.viewBox.baseVal, back = svg.getScreenCTM();
    return this.app.lumps.here().filter(id => id !== this.moving).filter(id => {
      const place = placeNow(this.model, id);
      if (place?.drawing !== drawing) return false;
      const at = new DOMPoint(place.x * width, place.y * height).matrixTransform(back);
      return Math.hypot(at.x - event.clientX, at.y - event.clientY) < NEAR;
    });
  }

  /* ---- The same by name ---- */

  list() {
    this.names = el('select', {});
    this.names.addEventListener('change', () => {
      const [drawing, region] = this.names.value.split(' ');
      if (!region) return;
      const [, , , x, y] = this.region(drawing, region);
      this.confirm({ drawing, region, x, y });
    });
    return el('label', { class: 'field lump-names' }, el('span', {}, 'Place by name'), this.names);
  }
  options() {
    const group = ([view, words]) => el('optgroup', { label: words }, ...Object.entries(this.told.regions[`${this.species}-${view}`])
      .sort((a, b) => a[1][0].localeCompare(b[1][0])).map(([code, [plain]]) => el('option', { value: `${this.species}-${view} ${code}` }, plain)));
    const views = [...VIEWS].sort((a, b) => (b[0] === this.view) - (a[0] === this.view));
    return [el('option', { value: '' }, 'choose…'), ...views.map(group)];
  }

  /* ---- Before it is kept: which side, how fine, how deep ---- */

  confirm(at, near = []) {
    const [plain, clinical, side] = this.region(at.drawing, at.region), before = this.moving ? placeNow(this.model, this.moving) : null;
    const place = { ...at, side: side || '', detail: '', depth: before?.depth ?? '' };
    for (const path of $$('.region', this.figure)) path.toggleAttribute('data-on', path.dataset.region === at.region);
    const title = el('h3', { id: 'lump-ask' }, upper(plain)), wants = el('p', { class: 'field-error small', role: 'status' });
    const parts = [title, el('p', { class: 'small quiet' }, clinical)];
    if (near.length && !this.moving) parts.push(el('div', { class: 'notice notice-look' }, el('p', {}, `Near here: ${near.map(id => `${this.app.lumps.name(id)}, ${this.app.lumps.place(id)}`).join('; ')}.`),
      el('div', { class: 'picks' }, ...near.map(id => button(`It is ${this.app.lumps.name(id)}`, () => { this.close(); this.chooses(id); })))));
    if (side) parts.push(el('p', { class: 'lump-side' }, 'The animal’s ', el('b', {}, side), ' side. ', button(`No, its ${MIRROR[side]} side`, () => this.flip(at), 'button-plain')));
    else parts.push(picksOf('On which side of the middle?', ['left', 'midline', 'right'].map(value => pick({ name: 'lump-side', words: value === 'midline' ? 'in the middle' : value, mark: 'normal', change: () => { place.side = value; wants.textContent = ''; } })), false));
    const finer = this.told.details[at.region] ?? [];
    if (finer.length) parts.push(picksOf('Where exactly? If it can be said.', finer.map(words => pick({ name: 'lump-detail', words, mark: 'abnormal', kind: 'abnormal', change: () => { place.detail = words; } })), false));
    parts.push(picksOf('How deep?', this.told.depths.map(words => pick({ name: 'lump-depth', words, mark: 'normal', checked: words === place.depth, change: () => { place.depth = words; } })), false));
    const first = el('input', { type: 'date', max: new Date().toISOString().slice(0, 10) }), who = el('input', { type: 'text', autocomplete: 'off', maxlength: 120 });
    if (!this.moving) parts.push(el('div', { class: 'lump-first' }, el('label', { class: 'field' }, el('span', {}, 'First seen, if known'), first), el('label', { class: 'field' }, el('span', {}, 'about, and by whom'), who)));
    const keep = () => {
      if (!place.side) { wants.textContent = 'Left, right or in the middle?'; return; }
      if (place.detail === 'anal sac' && place.side === 'midline') { wants.textContent = 'Anal sac: left or right?'; return; }
      this.keep(place, { first_seen: first.value, first_words: who.value.trim() });
    };
    parts.push(wants, el('div', { class: 'row' }, button(this.moving ? 'It lies here' : 'A lump is here', keep, 'button-main'), button('Not here', () => { this.ask.replaceChildren(); for (const path of $$('[data-on]', this.figure)) path.removeAttribute('data-on'); })));
    this.ask.replaceChildren(el('div', { class: 'panel', role: 'group', 'aria-labelledby': 'lump-ask' }, ...parts));
    this.ask.scrollIntoView({ block: 'nearest' });
    $('input, button', this.ask)?.focus({ preventScroll: true });
    this.app.say(`${upper(plain)}${side ? `, the animal’s ${side} side` : ''}.`);
  }
  async flip(at) {
    const [species, view] = at.drawing.split('-'), other = MIRROR[view] ?? view;
    const region = at.region.replace(/-(left|right)$/, (_, side) => `-${MIRROR[side]}`);
    if (other !== view) await this.show(other);
    this.confirm({ drawing: `${species}-${other}`, region, x: Math.round((1 - at.x) * 1000) / 1000, y: at.y });
  }
  keep(place, first) {
    const id = this.moving || uuid(), told = this.moving ? {} : Object.fromEntries(Object.entries(first).filter(([, v]) => v));
    this.app.sync.add(this.model.make(LUMP + id, 'lump_place', { ...place, ...told }));
    this.close();
    this.places(id);
  }
}

/* A finger that lands just beside the outline means the nearest region. */
function regionAt(svg, x, y) {
  for (const reach of REACH) {
    for (let k = 0; k < (reach ? 12 : 1); k += 1) {
      const px = x + reach * Math.cos(k * Math.PI / 6), py = y + reach * Math.sin(k * Math.PI / 6), found = document.elementFromPoint(px, py);
      if (found?.classList.contains('region') && svg.contains(found)) return [found, px, py];
    }
  }
  return null;
}
