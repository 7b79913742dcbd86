import type { Random } from './random.js';

/** A trouble code as a control unit keeps it. */
export interface MemoryCode {
  readonly code: string;
  readonly status: 'stored' | 'pending' | 'permanent';
  readonly unit: 'Engine' | 'Transmission' | 'Brakes' | 'Body';
  readonly text: string;
  /** Freeze frame: engine speed (rpm), coolant (degC), supply (V). */
  readonly frame?: { readonly rpm: number; readonly coolant: number; readonly volts: number };
}

export interface MemoryTest {
  readonly name: string;
  readonly value: number;
  readonly low: number;
  readonly high: number;
  readonly unit: string;
}

/**
 * Highest values and over-speed counters up to the read-out, which is done before the drive; what a control unit does
 * not keep is absent.
 */
export interface MemoryPeaks {
  /** degC */
  fluid?: number;
  coolant?: number;
  oil?: number;
  /** % over the rev limit. */
  over?: number;
  /** Events by range, the lowest first; the lowest begin at the limiter. */
  overRevs?: number[];
}

/** What the control units of a car remember; the defaults are those of a car that nobody prepared. */
export interface CarMemory {
  /** km by control unit; the instrument first. */
  odometers: { unit: 'Instrument cluster' | 'Engine' | 'Transmission' | 'Brakes'; km: number }[];
  /** km at which the last launch was made. */
  lastLaunch: number;
  launchCount: number;
  /** Since codes were cleared: km, warm-ups, engine running time (min). */
  sinceClear: { km: number; warmUps: number; minutes: number };
  /** Monitors of the car that have not finished. */
  monitorsOpen: string[];
  batteryChange: number;
  ignitionCycles: number;
  operatingHours: number;
  calibrations: { unit: 'Engine' | 'Transmission'; id: string; verification: string }[];
  tests: MemoryTest[];
  codes: MemoryCode[];
  peaks: MemoryPeaks;
}

/** Monitors that a petrol car of this kind has, by bit of the readiness bytes (byte, bit, name). */
export const MONITORS: readonly (readonly ['B' | 'C', number, string])[] = [
  ['B', 0, 'Misfire'],
  ['B', 1, 'Fuel system'],
  ['B', 2, 'Components'],
  ['C', 0, 'Catalyst'],
  ['C', 2, 'Evaporative system'],
  ['C', 5, 'Oxygen sensor'],
  ['C', 6, 'Oxygen sensor heater'],
];

const round = (x: number, step: number): number => Math.round(x / step) * step;

/** A healthy memory: distances that nearly agree, a clearing long past, tests well inside their limits, no code. */
export function drawMemory(random: Random): CarMemory {
  const km = Math.round(random.range(12_000, 120_000));
  const since = Math.min(random.range(0.1, 1) * km, 60_000);
  const near = (): number => km - random.int(0, 12);
  const id = (letters: string): string => `${letters}${random.int(10, 99)}-${random.int(1000, 9999)}`;
  const byte = (): string => random.int(0, 255).toString(16).toUpperCase().padStart(2, '0');
  const verification = (): string => byte() + byte() + byte() + byte();
  const inside = (name: string, low: number, high: number, unit: string): MemoryTest => ({
    name,
    value: Number((low + (high - low) * random.range(0.3, 0.7)).toPrecision(4)),
    low,
    high,
    unit,
  });
  return {
    odometers: [
      { unit: 'Instrument cluster', km },
      { unit: 'Engine', km: near() },
      { unit: 'Transmission', km: near() },
      { unit: 'Brakes', km: near() },
    ],
    lastLaunch: Math.round(km * random.range(0.2, 0.95)),
    launchCount: random.int(0, Math.floor((3 * km) / 1000 / 4)) % 20,
    sinceClear: {
      km: Math.round(since),
      warmUps: Math.min(254, Math.round(since / random.range(15, 40))),
      minutes: Math.min(65_000, Math.round(since * random.range(1.1, 2))),
    },
    monitorsOpen: random.chance(0.2) ? ['Evaporative system'] : [],
    batteryChange: Math.round(km * random.range(0, 0.9)),
    ignitionCycles: Math.round(km / random.range(6, 30)),
    operatingHours: Math.round(km / random.range(28, 65)),
    calibrations: [
      { unit: 'Engine', id: id('EC'), verification: verification() },
      { unit: 'Transmission', id: id('TC'), verification: verification() },
    ],
    tests: [
      inside('Catalyst bank 1 oxygen storage', 0.6, 3, 'ratio'),
      inside('Oxygen sensor bank 1 response time', 0, 0.4, 's'),
      inside('Purge flow test', 12, 90, 'count'),
      inside('Variable valve timing response', 0, 400, 'count'),
    ],
    codes: [],
    peaks: drawPeaks(random),
  };
}

/** Well inside every limit; not every control unit keeps each. */
function drawPeaks(random: Random): MemoryPeaks {
  const kept = <K extends keyof MemoryPeaks>(key: K, value: NonNullable<MemoryPeaks[K]>): MemoryPeaks =>
    random.chance(0.6) ? { [key]: value } : {};
  return {
    ...kept('fluid', Math.round(random.range(86, 109))),
    ...kept('coolant', Math.round(random.range(98, 112))),
    ...kept('oil', Math.round(random.range(106, 125))),
    ...kept('over', random.range(-6, 2.5)),
    ...kept('overRevs', [random.int(0, 400), random.int(0, 40), random.int(0, 4), 0, 0, 0]),
  };
}

/**
 * Two files as people bring them along: stored values and the code list, in a layout drawn from the seed.
 * @param revLimit rpm; without it no highest engine speed is written
 */
export function memoryFiles(
  memory: CarMemory,
  random: Random,
  revLimit?: number,
): { readonly stored: string; readonly codes: string } {
  return { stored: storedText(memory, random, revLimit), codes: codeText(memory.codes, random) };
}

function storedText(memory: CarMemory, random: Random, revLimit: number | undefined): string {
  const comma = random.chance(0.4);
  const delimiter = comma ? ';' : random.pick([',', ';', '\t']);
  const num = (x: number): string => (comma ? String(x).replace('.', ',') : String(x));
  const rows: string[][] = [];
  const add = (name: string, value: string, unit = '', low = '', high = ''): number =>
    rows.push([name, value, unit, low, high]);
  const miles = random.chance(0.15);
  const far = (km: number): [string, string] =>
    miles ? [num(Number((km / 1.609344).toFixed(1))), 'miles'] : [num(km), 'km'];
  for (const { unit, km } of memory.odometers)
    add(`Odometer ${unit.toLowerCase()}${unit === 'Instrument cluster' ? '' : ' control unit'}`, ...far(km));
  add('Odometer at last launch', ...far(memory.lastLaunch));
  add('Launch count', num(memory.launchCount));
  add('Distance since codes cleared', ...far(memory.sinceClear.km));
  add('Warm-ups since codes cleared', num(memory.sinceClear.warmUps));
  add('Engine run time since codes cleared', num(memory.sinceClear.minutes), 'min');
  add('Battery change distance', ...far(memory.batteryChange));
  add('Ignition cycles', num(memory.ignitionCycles));
  add('Operating hours', num(memory.operatingHours), 'h');
  for (const { unit, id, verification } of memory.calibrations) {
    add(`Calibration ID ${unit.toLowerCase()}`, id);
    add(`Calibration verification number ${unit.toLowerCase()}`, verification);
  }
  if (random.chance(0.5)) add('Monitor status', readinessBytes(memory));
  else
    for (const [, , name] of MONITORS)
      add(`${name} monitor`, memory.monitorsOpen.includes(name) ? 'not complete' : 'complete');
  const hottest = (name: string, celsius: number | undefined): void => {
    if (celsius === undefined) return;
    add(name, num(miles ? Math.round(celsius * 1.8 + 32) : celsius), miles ? '°F' : '°C');
  };
  const { peaks } = memory;
  hottest('Maximum transmission oil temperature', peaks.fluid);
  hottest('Maximum coolant temperature', peaks.coolant);
  hottest('Maximum engine oil temperature', peaks.oil);
  if (peaks.over !== undefined && revLimit !== undefined)
    add('Maximum engine speed', num(Math.round((revLimit * (1 + peaks.over / 100)) / 25) * 25), 'rpm');
  peaks.overRevs?.forEach((count, k) => {
    add(`Over-rev count range ${k + 1}`, num(count));
  });
  for (const { name, value, low, high, unit } of memory.tests) add(name, num(value), unit, num(low), num(high));
  const head = ['name', 'value', 'unit', 'minimum', 'maximum'];
  return `${[head, ...rows].map((row) => row.join(delimiter)).join(random.chance(0.5) ? '\r\n' : '\n')}\n`;
}

/** Data bytes A to D of service 01, parameter 01 (bits: SAE J1979, from memory). */
function readinessBytes({ monitorsOpen, codes }: CarMemory): string {
  const confirmed = codes.filter(({ status, unit }) => status === 'stored' && unit === 'Engine').length;
  const bytes = { A: (confirmed > 0 ? 128 : 0) + confirmed, B: 0, C: 0, D: 0 };
  for (const [byte, bit, name] of MONITORS) {
    bytes[byte] |= 1 << bit;
    if (!monitorsOpen.includes(name)) continue;
    if (byte === 'B') bytes.B |= 1 << (bit + 4);
    else bytes.D |= 1 << bit;
  }
  return Object.values(bytes)
    .map((x) => x.toString(16).toUpperCase().padStart(2, '0'))
    .join(' ');
}

/** Two bytes as hexadecimal digits: letter in bits 15-14, first digit in 13-12 (SAE J2012, from memory). */
function hexOf(code: string): string {
  const value = ('PCBU'.indexOf(code[0]!) << 14) | (Number(code[1]) << 12) | Number.parseInt(code.slice(2), 16);
  return `0x${value.toString(16).toUpperCase().padStart(4, '0')}`;
}

function codeText(codes: readonly MemoryCode[], random: Random): string {
  const plain = random.chance(0.4);
  if (plain) {
    if (codes.length === 0) return 'All control units read\nNo trouble codes stored\n';
    const lines = ['Trouble codes of all control units', ''];
    for (const { code, status, unit, text, frame } of codes) {
      lines.push(`Control unit: ${unit}`, `${code} ${text} (${status})`);
      if (frame)
        lines.push(
          `  Engine speed: ${frame.rpm} rpm`,
          `  Coolant temperature: ${frame.coolant} °C`,
          `  Battery voltage: ${frame.volts} V`,
        );
    }
    return `${lines.join('\n')}\n`;
  }
  const delimiter = random.pick([',', ';', '\t']);
  const hex = random.chance(0.3);
  const fahrenheit = random.chance(0.3);
  const head = ['control unit', 'code', 'status', 'description', 'RPM', fahrenheit ? 'ECT [F]' : 'ECT [°C]', 'VPWR'];
  const rows = codes.map(({ code, status, unit, text, frame }) => [
    unit,
    hex ? hexOf(code) : code,
    status,
    text,
    ...(frame
      ? [frame.rpm, fahrenheit ? round(frame.coolant * 1.8 + 32, 0.1).toFixed(1) : frame.coolant, frame.volts]
      : ['', '', '']),
  ]);
  return `${[head, ...rows].map((row) => row.join(delimiter)).join('\n')}\n`;
}
