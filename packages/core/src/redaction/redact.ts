import { announcedNames, withoutPrivate } from './patterns.js';

/** Members of a document that hold texts of the user's own, and what kind of name they are. */
const NAMES: Readonly<Record<string, string>> = { file: 'file', name: 'candidate' };

/**
 * A copy of a document (assessment, columns, plan, shortlist, logbook) without private data: file names, candidates and the car's
 * label are replaced by neutral ones wherever they occur, identification numbers, positions, persons who are named after a word like
 * `driver:` (wherever their name occurs), addresses, telephone numbers and file paths are taken out of every text. Hashes, numbers and our own words
 * stay as they are.
 */
export function redact<T>(document: T): T {
  const secrets = new Map<string, string>();
  collect(document, secrets, new Map());
  // The longest first: one name may be the beginning of another.
  const ordered = [...secrets].sort(([a], [b]) => b.length - a.length || (a < b ? -1 : 1));
  return cleaned(document, ordered) as T;
}

function collect(value: unknown, secrets: Map<string, string>, counts: Map<string, number>): void {
  // Who is announced in one place is a secret in every other.
  if (typeof value === 'string') for (const name of announcedNames(value)) secrets.set(name, '(name)');
  if (Array.isArray(value)) {
    for (const each of value) collect(each, secrets, counts);
    return;
  }
  if (typeof value !== 'object' || value === null) return;
  for (const [key, member] of Object.entries(value)) {
    if (key === 'vehicle' && typeof (member as { id?: unknown } | null)?.id === 'string') {
      const { id } = member as { id: string };
      collect(id, secrets, counts);
      if (id !== '' && !secrets.has(id)) secrets.set(id, numbered('car', counts));
    } else if (key === 'car' && typeof member === 'string') {
      collect(member, secrets, counts);
      if (member !== '' && !secrets.has(member)) secrets.set(member, numbered('car', counts));
    } else if (typeof member === 'string' && NAMES[key] !== undefined && isOwn(key, value)) {
      collect(member, secrets, counts);
      if (member !== '' && !secrets.has(member)) secrets.set(member, numbered(NAMES[key], counts) + extension(member));
    } else collect(member, secrets, counts);
  }
}

/** `name` is the user's own text in a candidate only: limits have names too. */
function isOwn(key: string, owner: object): boolean {
  return key === 'file' ? 'sha256' in owner : 'rank' in owner;
}

function numbered(kind: string, counts: Map<string, number>): string {
  const count = (counts.get(kind) ?? 0) + 1;
  counts.set(kind, count);
  return `${kind}-${count}`;
}

/** `.csv`, `.csv.gz`: says what it is, not whose. */
function extension(name: string): string {
  return /(?:\.(?:csv|txt|tsv|log))?(?:\.gz)?$/i.exec(name)?.[0].toLowerCase() ?? '';
}

/** Members that are never free text: made by us, and read by programs. */
const OURS = new Set([
  'schema',
  'sha256',
  'rule',
  'id',
  'unit',
  'code',
  'outcome',
  'severity',
  'level',
  'kind',
  'point',
]);

function cleaned(value: unknown, secrets: readonly (readonly [string, string])[], key = ''): unknown {
  if (typeof value === 'string') return OURS.has(key) ? ours(value, key, secrets) : text(value, secrets);
  if (Array.isArray(value)) return value.map((each) => cleaned(each, secrets, key));
  if (typeof value !== 'object' || value === null || ArrayBuffer.isView(value)) return value;
  return Object.fromEntries(
    Object.entries(value).map(([name, member]) => [text(name, secrets), cleaned(member, secrets, name)]),
  );
}

/** A label of the user's own may stand where ids stand: a point added to the sheet, the label of the car. */
function ours(value: string, key: string, secrets: readonly (readonly [string, string])[]): string {
  return key === 'id' || key === 'point' ? text(value, secrets) : value;
}

function text(value: string, secrets: readonly (readonly [string, string])[]): string {
  let clean = value;
  // A short label (`a`) would be found in every word.
  for (const [secret, instead] of secrets)
    if (clean === secret) clean = instead;
    else if (secret.length >= 4) clean = clean.replaceAll(secret, instead);
  return withoutPrivate(clean);
}
