/* A finding's class of urgency, so that the tablet can say it without the network. The rules are data of the walk;
   how they are read is that of exams/urgency.py, exams/qualifiers.py and exams/digest.py: a browser test holds
   the two to each other over every rule. */

export const LETTERS = ['M', 'R', 'T', 'E'];
export const CLASSES = { M: ['Monitor', 'begun', ''], R: ['Recheck', 'waiting', 'is-unseen'], T: ['Treat soon', 'abnormal', 'is-look'], E: ['Emergency', 'danger', 'is-danger'] };
const COMPARISON = /^([a-z_]\w*)\s*(>=|<=|==|>|<)\s*([\w.-]+)$/;
const DOES = { '>=': (a, b) => a >= b, '<=': (a, b) => a <= b, '>': (a, b) => a > b, '<': (a, b) => a < b, '==': (a, b) => a === b };
const NUMBER = /\d+(?:[.,]\d+)?/g;
const number = text => Number(text.replace(',', '.'));

export function holds(condition, facts) {
  const match = COMPARISON.exec(condition);
  if (!match) return facts[condition] === true;
  const [, name, sign, wanted] = match, value = facts[name];
  if (value === undefined || value === null) return false;
  if (typeof value === 'string') return sign === '==' && value === wanted;
  return DOES[sign](Number(value), Number(wanted));
}

/* Up wins over down, and a clinician's own class over both. */
export function effective(found, facts, byHand = '') {
  if (byHand) return { letter: byHand, because: [], byHand: true };
  const rank = letter => LETTERS.indexOf(letter), own = rank(found.urgency);
  const moved = (found.change ?? []).filter(([, all]) => all.every(c => holds(c, facts)));
  const up = moved.filter(([to]) => rank(to) > own);
  const best = up.length ? up.reduce((a, b) => (rank(b[0]) > rank(a[0]) ? b : a)) : moved.length ? moved.reduce((a, b) => (rank(b[0]) > rank(a[0]) ? b : a)) : null;
  return best ? { letter: best[0], because: best[1] } : { letter: found.urgency, because: [] };
}

export function implied(circumstances, codes, said) {
  const isTrue = new Set(said), entries = Object.entries(circumstances);
  for (const [key, c] of entries) if ((c.codes ?? []).some(code => codes.has(code))) isTrue.add(key);
  for (let grew = true; grew;) {
    grew = false;
    for (const [key, c] of entries) if (!isTrue.has(key) && (c.from ?? []).some(k => isTrue.has(k))) { isTrue.add(key); grew = true; }
  }
  return isTrue;
}

export function numbersOf(walk, entry) {
  const facts = {}, told = entry.qualifiers ?? {};
  for (const [name, at] of walk.findings[entry.code]?.asked ?? []) {
    const { fact } = walk.ways[at];
    const numbers = fact && told[name] ? (told[name].match(NUMBER) ?? []).map(number) : [];
    if (numbers.length) facts[fact] = Math.max(...numbers);
  }
  if ('mm' in facts) facts.longest_mm ??= facts.mm;
  if ('lasting_days' in facts) facts.present_days = facts.lasting_days;
  if ('rate' in facts && told.setting === 'asleep at home') facts.sleeping_rate = facts.rate;
  return facts;
}

/* What conditions may ask for this entry: of the animal, of today's findings, of the entry itself. */
export function factsFor(model, entry, line = null) {
  const { circumstances } = model.walk, codes = new Set([entry.code]);
  for (const answer of model.answers.values()) for (const f of answer.findings ?? []) codes.add(f.code);
  const facts = { ...model.server.facts, ...(entry.numbers ?? {}) };
  for (const key of implied(circumstances, codes, [])) facts[key] = true;
  for (const code of codes) facts[`finding:${code}`] = true;
  for (const key of implied(circumstances, new Set(), entry.circumstances ?? [])) facts[key] = true;
  Object.assign(facts, numbersOf(model.walk, entry));
  const size = line && model.answers.get(line.stored_at[0]);
  if (size?.unit === 'mm' && size.status !== 'measured') { facts.mm ??= Number(size.value); facts.longest_mm ??= Number(size.value); }
  if (entry.severity) facts.severity = entry.severity;
  const grade = entry.grade || only(model.walk.findings[entry.code]);
  if (/^\d+$/.test(grade)) facts.grade = Number(grade);
  const told = entry.qualifiers ?? {};
  if (told.onset === 'sudden' || told['sudden / gradual'] === 'sudden') facts.sudden = true;
  if (told.change === 'new') facts.new = true;
  if (told.change === 'worse') facts.worsening = true;
  return facts;
}
const only = found => ((found?.grades ?? []).length === 1 ? found.grades[0] : '');
export const urgencyOf = (model, entry, line) => effective(model.walk.findings[entry.code], factsFor(model, entry, line), entry.urgency_why ? entry.urgency : '');

/* The circumstances that somebody can state for this finding; what the animal's own facts say is not asked. */
export function circumstancesFor(model, found) {
  const known = Object.keys(model.server.facts ?? {}).some(k => k === 'neutered' || k === 'intact') ? ['neutered', 'intact'] : [];
  if ((found.asked ?? []).some(([name]) => name === 'sudden / gradual')) known.push('sudden'); /* its own qualifier says it */
  const keys = (found.change ?? []).flatMap(([, all]) => all).filter(c => c in model.walk.circumstances && !known.includes(c));
  return [...new Set(keys)];
}

export function inWords(model, because) {
  const { circumstances, findings } = model.walk;
  return because.map(c => circumstances[c]?.words ?? (c.startsWith('finding:') ? lowered(findings[c.slice(8)]?.name ?? c.slice(8)) : c.replace(/^age_(\w+) (\S+) (\S+)$/, 'age $2 $3 $1').replace(/^mm (\S+) (\S+)$/, '$1 $2 mm').replace(/_/g, ' ').replace('>=', 'at least').replace('<=', 'at most').replace('==', 'is').replace('>', 'over').replace('<', 'under'))).join(', ');
}
const lowered = text => text.charAt(0).toLowerCase() + text.slice(1);
/* "T if itchy; E if head tilt" in whole words. */
export const changeWords = found => (found.change_class_when === '-' ? '' : found.change_class_when.replace(/(^|; |[.] )([MRTE])(?= |$)/g, (_, lead, letter) => `${lead}${lead ? CLASSES[letter][0].toLowerCase() : CLASSES[letter][0]}`));
