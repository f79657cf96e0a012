/* Small helpers to build the page's parts. Text is always set as text, never as markup. */

export const $ = (selector, root = document) => root.querySelector(selector);
export const $$ = (selector, root = document) => [...root.querySelectorAll(selector)];
const SVG = 'http://www.w3.org/2000/svg';

export function shape(name, open = false) {
  const svg = document.createElementNS(SVG, 'svg'), use = document.createElementNS(SVG, 'use');
  svg.setAttribute('class', open ? 'shape shape-open' : 'shape');
  svg.setAttribute('aria-hidden', 'true');
  use.setAttribute('href', `#s-${name}`);
  svg.append(use);
  return svg;
}
export function reshape(root, name) {
  const use = $('use', root), href = `#s-${name}`;
  if (use.getAttribute('href') !== href) use.setAttribute('href', href);
}

export function el(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === undefined || value === false || value === null) continue;
    if (name === 'class') made.className = value;
    else if (name === 'on') for (const [kind, does] of Object.entries(value)) made.addEventListener(kind, does);
    else if (name === 'data') for (const [key, word] of Object.entries(value)) made.dataset[key] = word;
    else made.setAttribute(name, value === true ? '' : value);
  }
  made.append(...children.flat().filter(child => child !== null && child !== undefined && child !== false));
  return made;
}
/* Writing the same words again would lay the page out again. */
export const write = (node, words) => { if (node.textContent !== words) node.textContent = words; };
export const button = (words, does, kind = '') => el('button', { type: 'button', class: `button ${kind}`.trim(), on: { click: does } }, words);

let picks = 0;
/* A real radio or checkbox under its own label: the whole face is the target. */
export function pick({ kind = 'act', type = 'radio', name, value = '', words, mark = 'normal', checked = false, change, click, lead }) {
  const input = el('input', { type, name: name ?? `pick-${(picks += 1)}`, value });
  input.checked = checked;
  if (change) input.addEventListener('change', () => change(input.checked, input));
  if (click) input.addEventListener('click', () => click(input));
  return el('label', { class: `pick pick-${kind}` }, input, shape(mark), lead ? el('b', {}, lead) : null, el('span', {}, words));
}
export function picksOf(legend, items, hidden = true) {
  return el('fieldset', { class: 'picks' }, el('legend', { class: hidden ? 'vh' : '' }, legend), ...items);
}
export const many = (n, word) => `${n} ${word}${n === 1 ? '' : 's'}`;
export const lower = text => (/^[A-Z]{2}|^(Horner|Schirmer|Ortolani)/.test(text) ? text : text.charAt(0).toLowerCase() + text.slice(1));
export const upper = text => text.charAt(0).toUpperCase() + text.slice(1);
export const plainName = name => name.replace(/ \(.*\)/, '');
