/* An answer in the record's words, short enough to stand under its line. */

import { lower, upper } from './dom.js';

export function findingWords(model, entry) {
  const found = model.walk.findings[entry.code];
  if (!found) return entry.code;
  const title = found.name.replace(/ \(open mass record\)$/, ''); /* what to do is for whoever enters it */
  const grade = model.walk.scales[found.scale]?.grades.find(g => g.key === entry.grade);
  const name = grade ? title.replace(/\b[IVX\d]+-[IVX\d]+ of [IVX\d]+/, grade.label) : title; /* named for several grades: one of them */
  const degree = grade && name === title && (found.grades ?? []).length !== 1 ? `grade ${grade.label}`.replace(/^grade (?=[a-z])/, '') : '';
  const told = Object.entries(entry.qualifiers ?? {}).map(([name, value]) => qualifierWords(model, found, name, value));
  return [lower(name), entry.severity, degree, ...told, entry.tooth && `tooth ${entry.tooth}`, entry.code === 'MTH-05' && (entry.awake_estimate || (entry.made_in || model.awake) !== 'anaesthetised') && 'first impression, awake', entry.unconfirmed && 'not confirmed', entry.note].filter(Boolean).join(', ');
}
/* As exams/qualifiers.py says it: "22 mm", "14 × 11 × 8 mm", "hot", "left apex", "thrill: no". */
function qualifierWords(model, found, name, value) {
  const at = (found.asked ?? []).find(([asked]) => asked === name)?.[1], way = model.walk.ways[at] ?? {};
  if (['number', 'sizes'].includes(way.kind)) {
    const told = `${(value.match(/\d+(?:[.,]\d+)?/g) ?? [value]).join(' × ')}${way.unit === '%' ? '%' : way.unit ? ` ${way.unit}` : ''}`;
    return ['lasting days', 'count', '0-10 scale'].includes(name) || !way.unit ? `${lower(way.words ?? name)} ${told}` : told;
  }
  if (way.kind === 'flag' && value === 'yes') return way.words ?? name.replace(/\?$/, '');
  return ['yes', 'no'].includes(value) ? `${name.replace(/\?$/, '')}: ${value}` : value;
}
export function reasonWords(model, answer) {
  const reason = model.reasons.get(answer.reason ?? '');
  return [reason && !reason.needs_words ? reason.words : '', answer.reason_words].filter(Boolean).join(', ');
}
export function say(model, answer) {
  if (!answer) return '';
  if (answer.status === 'not-examined' && !answer.in_part) return ['not examined', reasonWords(model, answer) || 'why?', ...(answer.findings ?? []).map(f => findingWords(model, f))].join(', ');
  const found = (answer.findings ?? []).map(f => findingWords(model, f));
  if (answer.status === 'abnormal' && answer.value && !found.length) found.push('say what it is');
  return [answer.value && valueWords(model, answer), ...found, answer.in_part && `in part: ${reasonWords(model, answer) || 'what limited it?'}`].filter(Boolean).join('; ') || (answer.status === 'abnormal' ? 'say what it is' : answer.status);
}
export const unitWords = unit => ({ C: '°C', F: '°F', 'per-min': 'a minute', s: 's', 'mm-per-min': 'mm in a minute', 'bcs-9': 'of 9', 'mcs-4': '', 'pain-4': '' })[unit] ?? unit ?? '';
const POUND_KG = 0.45359237, trimmed = (value, digits) => String(Number(value.toFixed(digits)));
const TO_READ = { 'C:F': c => c * 9 / 5 + 32, 'F:C': f => (f - 32) * 5 / 9, 'kg:lb': kg => kg / POUND_KG, 'lb:kg': lb => lb * POUND_KG };
/* the unit in which whoever reads this tablet types and reads a canonical one; kept is what was typed */
export const readUnit = (model, unit) => model.data.reads?.[unit] ?? unit;
/* as clinic/patients/units.py words them */
export const REFILL = { 'under-1': 'under 1 s', '1-2': '1 to 2 s', 'over-2-to-3': 'over 2 to 3 s', 'over-3': 'over 3 s' };
export function valueWords(model, { value, unit }) {
  if (unit === 'per-min' && !Number.isFinite(Number(value))) return value; /* panting, purring: no rate */
  if (unit === 's' && REFILL[value]) return REFILL[value];
  const canonical = { F: 'C', lb: 'kg' }[unit] ?? unit, mine = readUnit(model, canonical), number = Number(value);
  const turned = TO_READ[`${unit}:${mine}`];
  return turned && Number.isFinite(number) ? `${trimmed(turned(number), mine === 'kg' ? 2 : 1)} ${unitWords(mine)}` : `${value} ${unitWords(unit)}`.trim();
}
/* As every page of the server writes it, whatever the tablet's own habit: 17:06. */
export const clock = at => new Date(at).toLocaleTimeString('en-GB', { hour: '2-digit', minute: '2-digit' });
export const sideLabel = line => (line.side === '-' ? '' : line.side_words);
export const place = line => [sideLabel(line) && upper(sideLabel(line)), line.name].filter(Boolean).join(': ');
