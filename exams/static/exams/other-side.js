/* "Same on the other side": one explicit tap that copies what stands here; the copy is an entry of its own. */

import { button, el } from './dom.js';
import { say, sideLabel } from './words.js';

const MIRROR = { left: 'right', right: 'left', LF: 'RF', RF: 'LF', LH: 'RH', RH: 'LH' };
export function otherSide(model, line) {
  const side = MIRROR[line.side] ?? line.side.replace(/left|right/, word => MIRROR[word]);
  const other = side === line.side ? null : model.lines.get(`${line.structure}|${side}`);
  return other && !model.whyAbsent(other) ? other : null;
}

/* `words`: what is the same; `copy(other)`: puts it there; `open(other)`: the panel of that side. */
export function sameThere(app, line, { words, copy, open }) {
  const other = otherSide(app.model, line);
  if (!other) return null;
  const box = el('div', { class: 'other-side', role: 'group', 'aria-label': `The ${sideLabel(other)} side` });
  const put = () => {
    copy(other);
    const change = button(`Change it there`, () => open(other));
    box.replaceChildren(el('span', { class: 'small', role: 'status' }, `${sideLabel(other)}: the same.`), change);
    change.focus();
  };
  const ask = button(`${words} on the ${sideLabel(other)} side`, () => {
    const stands = app.model.shown(other.key);
    if (!stands) { put(); return; }
    const yes = button('Put the same there', put);
    box.replaceChildren(el('span', { class: 'small', role: 'status' }, `${sideLabel(other)} says: ${say(app.model, stands)}.`), yes, button('Leave it', () => { box.replaceChildren(ask); ask.focus(); }, 'button-plain'));
    yes.focus();
  });
  ask.dataset.do = 'same';
  box.append(ask);
  return box;
}
