/* Another kind than the full walk: a clinician's choice with its reason. Comes after the page; resolves to what opens it. */

import { $, $$, pick } from './dom.js';

export function kindDialog(app) {
  const { data } = app;
  const kinds = $('#kind-dialog');
  $('#kind-stations').append(...data.walk.stations.map(s => pick({ type: 'checkbox', name: 'station', value: s.code, words: s.short, mark: 'normal' })));
  $('#kind-form').addEventListener('change', event => { if (event.target.name === 'kind') $('#kind-stations').hidden = event.target.value !== 'focused'; });
  $('#kind-form').addEventListener('submit', event => {
    const form = event.target, kind = form.elements.kind.value, reason = form.elements.reason.value.trim();
    if (event.submitter?.value !== 'save') return;
    const stations = kind === 'focused' ? $$('[name=station]:checked', form).map(box => box.value) : [];
    const lacks = kind !== 'full' && !reason ? 'Say why this is not a full walk.' : kind === 'focused' && !stations.length ? 'Choose at least one station.' : '';
    if (lacks) { event.preventDefault(); $('#kind-error').textContent = lacks; return; }
    app.sync.add(app.model.make('exam', 'set_kind', { kind, stations, reason: kind === 'full' ? '' : reason }));
  });
  return () => {
    const form = $('#kind-form');
    form.elements.kind.value = app.model.kind;
    form.elements.reason.value = app.model.kindReason ?? '';
    for (const box of $$('[name=station]', form)) box.checked = app.model.chosen.includes(box.value);
    $('#kind-stations').hidden = app.model.kind !== 'focused';
    $('#kind-error').textContent = '';
    kinds.showModal();
  };
}
