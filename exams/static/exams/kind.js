/* Which kind of visit it is, and what that leaves out. The letter says the same in one sentence. */

import { $, upper, write } from './dom.js';

const NAMES = { full: 'Full walk', focused: 'Focused', emergency: 'Emergency: limited exam', technician: 'Technician appointment', telephone: 'Telephone' };
const NOTES = {
  focused: 'Only the chosen stations are asked for. Signing answers every other one “not examined: not part of this visit”.',
  emergency: 'Look at what matters now. Signing answers everything else “not examined: urgent visit, limited exam”.',
  technician: 'Values, and what you see. A clinician’s walk is no part of it: signing answers the rest “not examined”. Grades wait for a clinician, who also signs the record.',
  telephone: 'By telephone nobody examines. What the owner tells belongs to the intake; the letter says that the animal was not examined.',
};

export function showKind({ model }) {
  const kind = model.server.visit_kind && !model.pending.some(op => op.what === 'set_kind') ? model.server.visit_kind : model.kind;
  write($('#kind-words'), kind === 'full' ? NAMES.full : `${NAMES[kind] ?? upper(kind)}${model.kindReason ? `: ${model.kindReason}` : ''}`);
  const note = $('#kind-note');
  write(note, NOTES[kind] ?? '');
  note.hidden = !NOTES[kind];
}
