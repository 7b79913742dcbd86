import type { CodeStatus } from '../recording/raw-read-out.js';

const ORDER: readonly CodeStatus[] = ['stored', 'pending', 'permanent', 'past'];

/** Words of status cells, lower case. The service numbers are those of SAE J1979: 03 stored, 07 pending, 0A permanent. */
const WORDS: readonly (readonly [RegExp, CodeStatus])[] = [
  [/\bpermanent\b|\b(service|mode) ?\$?0?a\b/, 'permanent'],
  [/\bpending\b|\bnot (yet )?confirmed\b|\bunconfirmed\b|\bmaturing\b|\b(service|mode) ?\$?0?7\b/, 'pending'],
  [
    /\bhistor(y|ic|ical)\b|\bpast\b|\binactive\b|\bpassive\b|\bsporadic\b|\bintermittent\b|\bnot (present|active|current)\b/,
    'past',
  ],
  [
    /\b(stored|confirmed|active|current|present|static|permanently present|test failed)\b|\b(service|mode) ?\$?0?3\b/,
    'stored',
  ],
];

/** Bare service numbers of a status column. */
const SERVICES: ReadonlyMap<string, CodeStatus> = new Map([
  ['3', 'stored'],
  ['03', 'stored'],
  ['7', 'pending'],
  ['07', 'pending'],
  ['a', 'permanent'],
  ['0a', 'permanent'],
]);

/**
 * Statuses that a text names, in the order stored, pending, permanent, past; empty when it names none. A status byte
 * (`0x2F`, `2F` when `byteAllowed`) is read by its bits: 2 pending, 3 confirmed, 0 failing now (ISO 14229-1, from memory).
 */
export function statusesOf(text: string, byteAllowed = false): CodeStatus[] {
  const lower = text.trim().toLowerCase();
  const service = SERVICES.get(lower);
  if (byteAllowed && service !== undefined) return [service];
  const byte = /^0x([0-9a-f]{2})$/.exec(lower) ?? (byteAllowed ? /^([0-9a-f]{2})h?$/.exec(lower) : null);
  if (byte !== null) return fromByte(Number.parseInt(byte[1]!, 16));
  const found = new Set<CodeStatus>();
  let rest = lower;
  for (const [pattern, status] of WORDS) {
    if (!pattern.test(rest)) continue;
    found.add(status);
    // "not confirmed" must not count as "confirmed" as well.
    rest = rest.replace(new RegExp(pattern, 'g'), ' ');
  }
  return ORDER.filter((status) => found.has(status));
}

function fromByte(byte: number): CodeStatus[] {
  const found: CodeStatus[] = [];
  if ((byte & 8) !== 0 || ((byte & 1) !== 0 && (byte & 4) === 0)) found.push('stored');
  if ((byte & 4) !== 0 && (byte & 8) === 0) found.push('pending');
  return found.length === 0 ? ['past'] : found;
}
