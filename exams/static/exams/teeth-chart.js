/* The drawn tooth chart: our drawing, with how every tooth stands by shape and letters. It knows no operations. */

import { el, pick } from './dom.js';

const SVG = 'http://www.w3.org/2000/svg', BAND = 64, TARGET = 44, LARGEST = 1.5 /* px a unit of the drawing */, SLIDE = 1.1, TINY = 0.6 /* words of the drawing are too small to read: the list below says them */;
const MARKS = { normal: 'normal', abnormal: 'abnormal', 'not-examined': 'unseen', 'not-applicable': 'na' };
const VIEWS = [['', 'Whole mouth'], ['upper-right', 'Upper right'], ['upper-left', 'Upper left'], ['lower-right', 'Lower right'], ['lower-left', 'Lower left']];

function svg(tag, props, ...children) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(props)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

/* The letters of one tooth, worst first; the rule is that of `letters_of` in exams/tooth_chart.py. */
export function lettersOf(letters, answer) {
  const found = new Map((answer?.findings ?? []).map(f => [f.code, f])), charted = answer?.charted ?? {};
  const beside = { extracted: (charted.extracted ?? []).length, gone: charted.present?.length === 0 && !found.has('MTH-07'), other: [...found.keys()].some(code => !(code in letters)) };
  return Object.entries(letters).flatMap(([code, [letter]]) => {
    const entry = found.get(code);
    if (entry) return [letter.replace('{g}', entry.grade ?? '') + (code === 'MTH-05' && entry.made_in !== 'anaesthetised' ? '?' : '')];
    return beside[code] ? [letter] : [];
  });
}
export const isGone = letters => letters.includes('X') || letters.includes('XX');

/* Our drawing, from the text of its file; every chart is a copy of it. A tooth is named by its button, not by a title. */
let drawing = null;
export function drawn(text) {
  drawing = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
  for (const node of drawing.querySelectorAll('title, desc')) node.remove();
  for (const node of drawing.querySelectorAll('[id]')) node.removeAttribute('id');
  for (const name of ['role', 'aria-labelledby', 'data-drawing']) drawing.removeAttribute(name);
}

export class Chart {
  /* tells(number) → { state, letters, name }; taps(number): somebody chose it. Without `taps` it is a picture. */
  constructor({ label, tells, taps, pressed = () => false }) {
    Object.assign(this, { tells, taps, pressed, view: '' });
    this.svg = document.importNode(drawing, true);
    const [, , width, height] = this.svg.getAttribute('viewBox').split(' ').map(Number);
    Object.assign(this, { width, height: height + 2 * BAND });
    this.teeth = new Map([...this.svg.querySelectorAll('.tooth')].map(node => [Number(node.dataset.triadan), node]));
    this.boxes = new Map([...this.teeth].map(([n, node]) => [n, node.querySelector('.hit').getAttribute('d').match(/[\d.]+/g).map(Number)]));
    this.middle = Math.max(...[...this.boxes.values()].map(b => b[1]));
    this.left = Math.min(...[...this.boxes.values()].map(b => b[0])) - 4;
    this.right = Math.max(...[...this.boxes.values()].map(b => b[0] + b[2])) + 4;
    this.centre = width / 2;
    this.narrow = Math.min(...[...this.boxes.values()].map(b => b[2]));
    this.svg.setAttribute('role', taps ? 'group' : 'img');
    this.svg.setAttribute('aria-label', label);
    this.marks = svg('g', { class: 'tooth-marks', 'text-anchor': 'middle', 'font-size': '16', 'aria-hidden': 'true' });
    this.svg.append(this.marks);
    this.scroll = el('div', { class: 'teeth-scroll' });
    /* the whole mouth is seen from in front: the animal's right is at our left */
    this.sides = el('p', { class: 'teeth-sides small quiet', 'aria-hidden': 'true' }, el('span', {}, 'the animal’s right'), el('span', {}, 'its left'));
    this.scroll.append(this.sides, this.svg);
    if (taps) this.alive();
    new ResizeObserver(() => this.fit()).observe(this.scroll);
  }

  views() {
    const name = 'teeth-view';
    this.viewPicks = VIEWS.map(([value, words]) => pick({ name, value, words, mark: 'begun', checked: value === '', change: () => this.look(value) }));
    return el('fieldset', { class: 'picks teeth-views' }, el('legend', { class: 'vh' }, 'Which part of the mouth is shown?'), ...this.viewPicks);
  }
  look(view) {
    this.view = view;
    for (const label of this.viewPicks ?? []) { const input = label.querySelector('input'); input.checked = input.value === view; }
    this.fit();
  }
  quadrant(number) { return { 1: 'upper-right', 2: 'upper-left', 3: 'lower-left', 4: 'lower-right' }[((Math.floor(number / 100) - 1) % 4) + 1]; }

  /* A tooth is a finger wide. Where the whole mouth is too small for that, a tap brings its quarter nearer. */
  fit() {
    const room = this.scroll.clientWidth;
    if (!room) return;
    const from = this.from(), upper = /upper/.test(this.view);
    const box = this.view ? [from, upper ? -BAND : this.middle, (/left/.test(this.view) ? this.right : this.centre) - from, upper ? this.middle + BAND : this.height - this.middle - BAND] : [this.left, -BAND, this.right - this.left, this.height];
    this.svg.setAttribute('viewBox', box.join(' '));
    const wanted = Math.ceil((TARGET * box[2]) / this.narrow);
    this.small = !this.view && room * SLIDE < wanted; /* a little to slide is better than a quarter */
    const across = this.view || !this.small ? Math.max(wanted, Math.min(room, Math.round(box[2] * LARGEST))) : Math.min(room, Math.round(box[2] * LARGEST));
    this.scale = across / box[2];
    this.svg.toggleAttribute('data-tiny', this.scale < TINY);
    this.sides.hidden = Boolean(this.view);
    this.sides.style.width = `${across}px`;
    this.svg.setAttribute('width', across);
    this.svg.setAttribute('height', Math.round((across * box[3]) / box[2]));
  }

  from() { return /left/.test(this.view) ? this.centre : this.left; }

  alive() {
    for (const [number, node] of this.teeth) {
      node.setAttribute('role', 'button');
      node.setAttribute('tabindex', '-1');
      node.dataset.tooth = number;
      node.addEventListener('click', () => this.choose(number));
      node.addEventListener('focus', () => this.rove(number));
    }
    this.rove([...this.teeth.keys()][0]);
    this.svg.addEventListener('keydown', event => this.key(event));
  }
  choose(number) {
    if (this.small) { this.look(this.quadrant(number)); this.focus(number); return; }
    this.taps(number);
  }
  rove(number) {
    for (const [n, node] of this.teeth) node.setAttribute('tabindex', n === number ? '0' : '-1');
  }
  focus(number) {
    const node = this.teeth.get(number);
    if (!node) return;
    if (this.view && this.view !== this.quadrant(number)) this.look(this.quadrant(number));
    node.focus({ preventScroll: true });
    const [x, , width] = this.boxes.get(number);
    this.scroll.scrollLeft = (x + width / 2 - this.from()) * this.scale - this.scroll.clientWidth / 2;
  }
  key(event) {
    const on = Number(document.activeElement?.dataset?.tooth);
    if (!on || event.ctrlKey || event.metaKey || event.altKey) return;
    const [x, y, width] = this.boxes.get(on), row = [...this.boxes].filter(([, b]) => b[1] === y).sort((a, b) => a[1][0] - b[1][0]).map(([n]) => n);
    const at = row.indexOf(on);
    const to = { ArrowLeft: row[at - 1], ArrowRight: row[at + 1], Home: row[0], End: row.at(-1) }[event.key] ?? (/^Arrow(Up|Down)$/.test(event.key) ? this.across(x + width / 2, y) : undefined);
    if (to !== undefined) this.focus(to);
    else if (event.key === 'Enter' || event.key === ' ') { if (this.small) this.look(this.quadrant(on)); this.taps(on); } else if ('nax'.includes(event.key)) this.taps(on, event.key);
    else if (!/^Arrow|^Home$|^End$/.test(event.key)) return;
    event.preventDefault();
  }
  /* The tooth of the other jaw that stands nearest. */
  across(x, y) {
    const others = [...this.boxes].filter(([, b]) => b[1] !== y);
    return others.sort((a, b) => Math.abs(a[1][0] + a[1][2] / 2 - x) - Math.abs(b[1][0] + b[1][2] / 2 - x))[0]?.[0];
  }

  draw() {
    const drawn = [], seen = new Set();
    for (const [number, node] of this.teeth) {
      const { state, letters, name } = this.tells(number), [x, y, width] = this.boxes.get(number), upper = y < this.middle, middle = x + width / 2;
      node.dataset.state = state;
      node.toggleAttribute('data-gone', state === 'not-applicable' || isGone(letters));
      if (this.taps) {
        node.setAttribute('aria-label', name);
        node.setAttribute('aria-pressed', String(this.pressed(number)));
      }
      letters.forEach(letter => seen.add(letter));
      if (!MARKS[state]) continue;
      const bottom = this.height - BAND * 2, top = upper ? -18 : bottom + 2, first = upper ? -23 : bottom + 33, step = upper ? -17 : 17;
      const shown = letters.length > 2 ? [letters[0], `${letters[1]}+`] : letters;
      drawn.push(svg('g', { class: 'tooth-mark', 'data-state': state },
        svg('use', { href: `#s-${MARKS[state]}`, x: middle - 8, y: top, width: 16, height: 16 }),
        ...shown.map((letter, i) => svg('text', { x: middle, y: first + i * step }, letter))));
    }
    this.marks.replaceChildren(...drawn);
    return seen;
  }
}
