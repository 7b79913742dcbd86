/** Area of the car that the letter of a code names. */
type CodeArea = 'powertrain' | 'chassis' | 'body' | 'network';

/**
 * Who defines the code: `generic` = the standard, so that it means the same in every car; `maker` = the maker;
 * `reserved` = kept by the standard for later.
 */
type CodeOwner = 'generic' | 'maker' | 'reserved';

/** A diagnostic trouble code taken apart. */
export interface TroubleCode {
  /** Five characters, upper case: `P0301`, `U11FF`. */
  readonly code: string;
  readonly area: CodeArea;
  readonly owner: CodeOwner;
  /** What the third character says of P0 and P2 codes, in words. */
  readonly group?: string;
  /** Failure type byte, two hexadecimal digits, where the source gave one other than 00. */
  readonly failureType?: string;
}

const LETTERS = 'PCBU';
const AREAS: readonly CodeArea[] = ['powertrain', 'chassis', 'body', 'network'];

/** Third character of P0 and P2 codes (SAE J2012 / ISO 15031-6, from memory). */
const GROUPS: Readonly<Record<string, string>> = {
  '0': 'fuel, air metering and auxiliary emission controls',
  '1': 'fuel and air metering',
  '2': 'fuel and air metering, injectors',
  '3': 'ignition and misfire',
  '4': 'auxiliary emission controls',
  '5': 'speed, idle and auxiliary inputs',
  '6': 'control unit and its outputs',
  '7': 'transmission',
  '8': 'transmission',
  '9': 'transmission',
  A: 'hybrid drive',
};

/**
 * Never throws. Reads a code as people and tools write it: `P0301`, `p0301-00`, `P0301:2A`, `P030100`; hexadecimal bytes only
 * with their sign: `0x0301`, `0x030100`. Undefined for anything else, and for the padding 0x0000.
 * Structure: SAE J2012 / ISO 15031-6 (from memory, checked against published encoding pairs).
 */
export function parseTroubleCode(text: string): TroubleCode | undefined {
  const word = text.trim().toUpperCase();
  const bytes = /^0X([0-9A-F]{4})([0-9A-F]{2})?$/.exec(word);
  if (bytes !== null) return decodeTroubleCode(bytes[1]!, bytes[2]);
  const written = /^([PCBU][0-3][0-9A-F]{3})(?:[-:_. ]?([0-9A-F]{2}))?$/.exec(word);
  return written === null ? undefined : taken(written[1]!, written[2]);
}

/**
 * Two bytes as four hexadecimal digits, `0301` -> P0301: bits 15-14 the letter, 13-12 the first digit, the rest three
 * hexadecimal digits. Undefined for 0000 (padding of a short answer) and for what is not four such digits.
 * @param failureType third byte of the three-byte form, two hexadecimal digits.
 */
export function decodeTroubleCode(hex: string, failureType?: string): TroubleCode | undefined {
  if (!/^[0-9A-Fa-f]{4}$/.test(hex)) return undefined;
  const value = Number.parseInt(hex, 16);
  if (value === 0) return undefined;
  const digits = (value & 0x0fff).toString(16).toUpperCase().padStart(3, '0');
  return taken(`${LETTERS[value >> 14]!}${(value >> 12) & 3}${digits}`, failureType);
}

/** The two bytes of a code as four upper-case hexadecimal digits; the inverse of {@link decodeTroubleCode}. */
export function encodeTroubleCode(code: string): string {
  const letter = LETTERS.indexOf(code[0]!);
  const value = (letter << 14) | (Number(code[1]) << 12) | Number.parseInt(code.slice(2), 16);
  return value.toString(16).toUpperCase().padStart(4, '0');
}

function taken(code: string, failureType: string | undefined): TroubleCode {
  const area = AREAS[LETTERS.indexOf(code[0]!)]!;
  const owner = ownerOf(code);
  const group = /^P[02]/.test(code) ? GROUPS[code[2]!] : undefined;
  return {
    code,
    area,
    owner,
    ...(group === undefined ? {} : { group }),
    ...(failureType === undefined || failureType === '00' ? {} : { failureType }),
  };
}

/** P0, P2, P34..P3F, B0, C0, U0 and U3's share are the standard's; P1, P30..P33, B1, B2, C1, C2, U1, U2 the maker's. */
function ownerOf(code: string): CodeOwner {
  const first = code[1]!;
  if (first === '0') return 'generic';
  if (first === '1') return 'maker';
  if (code[0] === 'P') {
    if (first === '2') return 'generic';
    return Number.parseInt(code[2]!, 16) >= 4 ? 'generic' : 'maker';
  }
  return first === '2' ? 'maker' : 'reserved';
}
