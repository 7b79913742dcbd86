/** Text states and their codes. Labels are what reports print. */
export interface StateTable {
  readonly [label: string]: number;
}

const FLAG: StateTable = Object.freeze({ off: 0, on: 1 });

/**
 * Codes of every state channel that is read from text. `gear` is not a table: the number is the gear, 0 neutral or
 * park, -1 reverse. `fuelSystemStatus` follows SAE J1979 PID 03 (from memory): one bit per state.
 */
export const STATES: Readonly<Record<string, StateTable>> = Object.freeze({
  gear: Object.freeze({ R: -1, N: 0 }),
  selector: Object.freeze({ P: 0, R: 1, N: 2, D: 3, S: 4, M: 5, L: 6 }),
  converterClutchState: Object.freeze({ open: 0, slipping: 1, closed: 2 }),
  fuelSystemStatus: Object.freeze({
    'not running': 0,
    'open loop (cold)': 1,
    'closed loop': 2,
    'open loop (load or overrun)': 4,
    'open loop (fault)': 8,
    'closed loop (fault)': 16,
  }),
  driveMode: Object.freeze({ eco: 0, comfort: 1, sport: 2, race: 3, individual: 4, winter: 5 }),
  transmissionMode: Object.freeze({ automatic: 0, sport: 1, manual: 2 }),
  fuelType: Object.freeze({ petrol: 1, ethanol: 3, diesel: 4, LPG: 5, CNG: 6 }),
  flag: FLAG,
});

const WORDS: Readonly<Record<string, Readonly<Record<string, number>>>> = {
  flag: {
    on: 1,
    yes: 1,
    true: 1,
    active: 1,
    activated: 1,
    closed: 1,
    pressed: 1,
    applied: 1,
    engaged: 1,
    running: 1,
    enabled: 1,
    detected: 1,
    set: 1,
    low: 1,
    full: 1,
    ein: 1,
    an: 1,
    ja: 1,
    aktiv: 1,
    oui: 1,
    si: 1,
    off: 0,
    no: 0,
    false: 0,
    inactive: 0,
    'not active': 0,
    deactivated: 0,
    open: 0,
    released: 0,
    'not pressed': 0,
    'not applied': 0,
    disengaged: 0,
    stopped: 0,
    disabled: 0,
    'not detected': 0,
    ok: 0,
    normal: 0,
    none: 0,
    aus: 0,
    nein: 0,
    inaktiv: 0,
    non: 0,
  },
  selector: {
    p: 0,
    park: 0,
    parking: 0,
    r: 1,
    reverse: 1,
    n: 2,
    neutral: 2,
    d: 3,
    drive: 3,
    s: 4,
    sport: 4,
    ds: 4,
    m: 5,
    manual: 5,
    tip: 5,
    '+': 5,
    '-': 5,
    l: 6,
    low: 6,
    b: 6,
  },
  converterClutchState: {
    open: 0,
    unlocked: 0,
    released: 0,
    off: 0,
    disengaged: 0,
    slipping: 1,
    slip: 1,
    controlled: 1,
    regulated: 1,
    partial: 1,
    closed: 2,
    locked: 2,
    on: 2,
    engaged: 2,
    applied: 2,
    'locked up': 2,
  },
  fuelSystemStatus: {
    ol: 1,
    'open loop': 1,
    open: 1,
    cl: 2,
    'closed loop': 2,
    closed: 2,
    on: 2,
    active: 2,
    'ol drive': 4,
    'ol fault': 8,
    'cl fault': 16,
    off: 0,
  },
  driveMode: {
    eco: 0,
    economy: 0,
    comfort: 1,
    normal: 1,
    auto: 1,
    automatic: 1,
    standard: 1,
    sport: 2,
    dynamic: 2,
    'sport +': 3,
    'sport plus': 3,
    race: 3,
    track: 3,
    individual: 4,
    custom: 4,
    winter: 5,
    snow: 5,
    wet: 5,
  },
  transmissionMode: {
    automatic: 0,
    auto: 0,
    a: 0,
    d: 0,
    drive: 0,
    normal: 0,
    sport: 1,
    s: 1,
    manual: 2,
    m: 2,
    on: 2,
    off: 0,
  },
  fuelType: { petrol: 1, gasoline: 1, ethanol: 3, diesel: 4, lpg: 5, cng: 6 },
};

const FLAG_LIKE: ReadonlySet<string> = new Set(['gear', 'gearTarget', 'gearPreselected', ...Object.keys(WORDS)]);

function folded(text: string): string {
  return text
    .slice(0, 40)
    .trim()
    .toLowerCase()
    .replaceAll(/[\s_]+/g, ' ')
    .replace(/[.)\]]+$/, '')
    .replace(/^[[(]+/, '');
}

/** Gear written as text: `N`, `R`, `P`, `3`, `3rd`, `D3`, `M4`, `gear 5`, `manual-3`, `neutral`, `first`. */
function gearOf(text: string): number | undefined {
  const key = folded(text);
  if (/^(?:n|p|neutral|park|parking|manual-neutral|idle|none|no gear|0)$/.test(key)) return 0;
  if (/^(?:r|rev|reverse|-1|r1|r2)$/.test(key)) return -1;
  const words = ['first', 'second', 'third', 'fourth', 'fifth', 'sixth', 'seventh', 'eighth', 'ninth', 'tenth'];
  const word = words.indexOf(key.replace(/ gear$/, ''));
  if (word >= 0) return word + 1;
  const match = /^(?:d|m|s|g|gear|manual|drive|auto|gang)?[ -]?(\d{1,2})(?:st|nd|rd|th|\. gang)?(?: gear)?$/.exec(key);
  if (match === null) return undefined;
  const gear = Number(match[1]);
  return gear >= 1 && gear <= 10 ? gear : undefined;
}

/**
 * The code of a text cell of a state or flag channel (base id), or undefined when the text is not known. Numbers written
 * as text are taken for gears only; elsewhere the caller has read them already.
 */
export function stateValue(channelBase: string, text: string): number | undefined {
  if (channelBase.startsWith('gear')) return FLAG_LIKE.has(channelBase) ? gearOf(text) : undefined;
  const key = folded(text);
  const table = Object.hasOwn(WORDS, channelBase) ? WORDS[channelBase]! : WORDS.flag!;
  if (Object.hasOwn(table, key)) return table[key];
  if (channelBase === 'selector') {
    // D3, M4: the lever; the gear is another channel's business.
    const lever = /^([dsml])[ -]?\d{1,2}$/.exec(key)?.[1];
    return lever === undefined ? undefined : table[lever];
  }
  if (channelBase === 'fuelSystemStatus') {
    if (!/^(?:open|closed|ol|cl)\b/.test(key)) return undefined;
    const open = key.startsWith('o');
    if (key.includes('fault') || key.includes('failure')) return open ? 8 : 16;
    if (!open) return 2;
    return /load|decel|drive|overrun|cut/.test(key) ? 4 : 1;
  }
  return undefined;
}

/** The label of a state's code, `undefined` for an unknown code: `stateLabel('selector', 3)` is `D`. */
export function stateLabel(channelBase: string, code: number): string | undefined {
  if (channelBase.startsWith('gear') && FLAG_LIKE.has(channelBase)) {
    if (code === -1) return 'R';
    if (code === 0) return 'N';
    return Number.isInteger(code) && code >= 1 && code <= 10 ? String(code) : undefined;
  }
  const table = Object.hasOwn(STATES, channelBase) ? STATES[channelBase]! : FLAG;
  return Object.keys(table).find((label) => table[label] === code);
}
