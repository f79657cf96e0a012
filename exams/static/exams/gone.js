/* There is none of it, for good: a fact of the patient. Unlike a tap it cannot wait on the tablet, because
   every other page reckons with it at once; so without a network nothing is changed, and the page says so. */

import { $, button, el } from './dom.js';

const OFFLINE = 'There is no network. What is gone for good is kept with the patient, for every visit, so it cannot wait on this tablet. Nothing was changed: mark the line not examined now, and say it again when the network is back.';

/* Sends a form of few words; resolves to '' when it was kept, else to the sentence to show. */
async function send(model, address, fields) {
  try {
    const asked = await fetch(model.data.urls.token, { headers: { Accept: 'application/json' } });
    if (asked.status === 401) return 'You are signed out. Nothing was changed: sign in, then say it again.';
    const { token } = await asked.json();
    const answer = await fetch(address, { method: 'POST', body: new URLSearchParams(fields), redirect: 'manual', headers: { 'X-CSRFToken': token, Accept: 'application/json' } });
    if (answer.ok || answer.type === 'opaqueredirect') return '';
    if (answer.status === 422) return `${await answer.text()} Nothing was changed.`;
    if (answer.status === 403) return 'Only a clinician says that a part is gone, or is there after all. Nothing was changed.';
    return `The clinic’s server answered ${answer.status}. Nothing was changed; try again.`;
  } catch {
    return OFFLINE;
  }
}

/* The lines of the animal are others now. Taps that wait are on the tablet and come again after the reload. */
async function again(model, line) {
  await Promise.all(model.pending.map(op => op.kept));
  history.replaceState(null, '', `#${model.station.get(line.key)}`);
  location.reload();
}

export async function none(app, line, why, whole) {
  const wrong = await send(app.model, app.data.urls.none, { line: line.key, why, whole: whole ? '1' : '' });
  if (wrong) app.wrong(line.key, wrong);
  else await again(app.model, line);
}

/* Beside "not applicable": for a clinician, the way back. Species, sex and age have none. */
export function thereIsOne(model, made, line) {
  const offered = line.absent === 'absent' && model.data.me.assesses, before = $('.gone-back', made);
  if (!offered) { before?.remove(); return; }
  if (before) return;
  const box = el('div', { class: 'gone-back' });
  const open = button('it is there after all', () => {
    const why = el('input', { type: 'text', autocomplete: 'off', maxlength: 200 }), said = el('p', { class: 'field-error small', role: 'status' });
    const strike = button('Strike it out', async () => {
      if (!why.value.trim()) { said.textContent = 'Say why it is struck out.'; why.focus(); return; }
      const wrong = await send(model, model.data.urls.there, { line: line.key, reason: why.value });
      if (wrong) said.textContent = wrong; else await again(model, line);
    });
    box.replaceChildren(el('label', { class: 'field' }, el('span', {}, 'Why it is struck out'), why), strike, said);
    why.focus();
  }, 'button-plain');
  box.append(open);
  made.append(box);
}
