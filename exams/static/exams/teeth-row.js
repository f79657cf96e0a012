/* The line of the teeth at the mouth's station. The chart and its drawing come later than the page (later.js):
   until they are here the line says so, and counts as not yet on screen. */

import { button, el } from './dom.js';

export const TEETH = 'MTH.teeth';
export const redrawTeeth = (app, made) => app.later.part('teeth').redrawTeeth(app, made);
export const toothPanel = (app, panel, line) => app.later.part('teeth').toothPanel(app, panel, line);

/* Fills the line; resolves once the chart is in it. */
export function teethRow(app, li, lines) {
  const made = () => app.later.part('teeth').teeth(app, lines);
  if (app.later.part('teeth')) { li.append(...made()); return Promise.resolve(); }
  const wait = el('div', { class: 'teeth-wait', role: 'status' });
  li.append(wait);
  return new Promise(done => {
    const put = () => {
      if (!wait.isConnected) return; /* asked for twice */
      removeEventListener('online', ask);
      wait.replaceWith(...made());
      app.refresh();
      done();
    };
    const ask = () => {
      wait.replaceChildren(el('p', { class: 'quiet' }, 'The tooth chart is being fetched.'));
      app.later.fetch('teeth').then(put, () => wait.replaceChildren(el('p', {}, 'The tooth chart did not arrive over the network. It comes by itself when the network is back.'), button('Try again', ask)));
    };
    addEventListener('online', ask);
    ask();
  });
}
