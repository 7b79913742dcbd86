// The benchmark's own recordings, from a seed: a driving cycle of 41 columns that repeats until the file has its size.
import { closeSync, existsSync, openSync, renameSync, statSync, writeSync } from 'node:fs';
import { Random } from '../simulate/random.js';

/** Rows of 100 MB, and columns with the time. */
export const ROWS = 468_000;
export const WIDTH = 41;

/** How the same numbers are written. */
export type Form = 'plain' | 'decimal-comma' | 'quoted';

/** Rows of the cycle. Long enough that no branch predictor learns it by heart. */
const CYCLE = 1 << 16;
/** Rows per second. */
const RATE = 50;

interface Column {
  readonly label: string;
  readonly decimals: number;
  /** Value at row `i` of the cycle, from the state of the drive and a source of noise. */
  readonly value: (state: State, noise: number) => number;
}

interface State {
  speed: number;
  engine: number;
  pedal: number;
  gear: number;
  load: number;
  heat: number;
}

const column = (label: string, decimals: number, value: Column['value']): Column => ({ label, decimals, value });

const cylinders = [1, 2, 3, 4, 5, 6].map((n) =>
  column(`Knock retard cyl ${n} [deg]`, 2, (s, n01) => (s.load > 80 && n01 > 0.9 ? 0.75 : 0)),
);
const wheels = ['front left', 'front right', 'rear left', 'rear right'].map((place, k) =>
  column(`Wheel speed ${place} [km/h]`, 2, (s, n01) => Math.max(0, s.speed * (1 + k * 0.001) + (n01 - 0.5) * 0.2)),
);
const trims = [1, 2].flatMap((bank) => [
  column(`Short term fuel trim bank ${bank} [%]`, 2, (_, n01) => (n01 - 0.5) * 6),
  column(`Long term fuel trim bank ${bank} [%]`, 2, (s) => 1.5 + (s.load > 40 ? 0.78 : 0)),
  column(`Lambda bank ${bank}`, 4, (s, n01) => (s.load > 70 ? 0.88 : 1) + (n01 - 0.5) * 0.02),
]);
// What a control unit also logs and no channel stands for.
const further = Array.from({ length: 8 }, (_, k) =>
  column(`Adaptation word ${k + 1}`, k % 3, (s, n01) => k * 37 + n01 * 10 ** (k % 4) + s.gear),
);

const COLUMNS: readonly Column[] = [
  column('Engine speed [rpm]', 1, (s, n) => s.engine + (n - 0.5) * 20),
  column('Vehicle speed [km/h]', 2, (s) => s.speed),
  column('Accelerator pedal position [%]', 1, (s) => s.pedal),
  column('Throttle position [%]', 1, (s) => 6 + s.pedal * 0.9),
  column('Calculated load [%]', 1, (s, n) => s.load + n),
  column('Manifold absolute pressure [kPa]', 1, (s, n) => 30 + s.load * 1.9 + n),
  column('Barometric pressure [kPa]', 0, () => 99),
  column('Mass air flow [g/s]', 2, (s, n) => 3 + (s.load * s.engine) / 2500 + n * 0.3),
  column('Intake air temperature [degC]', 0, (s) => 24 + s.load / 10),
  column('Coolant temperature [degC]', 0, (s) => 88 + s.heat * 3),
  column('Engine oil temperature [degC]', 0, (s) => 92 + s.heat * 6),
  column('Transmission oil temperature [degC]', 1, (s) => 84 + s.heat * 9),
  column('Gear', 0, (s) => s.gear),
  column('Ignition advance [deg]', 1, (s, n) => 32 - s.load / 4 + n),
  column('Lambda target', 3, (s) => (s.load > 70 ? 0.88 : 1)),
  column('System voltage [V]', 2, (_, n) => 14 + n * 0.2),
  ...cylinders,
  ...wheels,
  ...trims,
  ...further,
];

/** Column names, the time first. */
const LABELS: readonly string[] = ['Time [s]', ...COLUMNS.map((each) => each.label)];

function advance(state: State, i: number): void {
  const phase = (i % 6000) / RATE;
  // 20 s idle, 25 s pull-away and acceleration, 55 s cruise, 20 s braking to a stop.
  const target = phase < 20 ? 0 : phase < 45 ? (phase - 20) * 4.4 : phase < 100 ? 110 : (120 - phase) * 5.5;
  const change = target - state.speed;
  state.speed = Math.max(0, target);
  state.pedal = phase < 20 || phase >= 100 ? 0 : phase < 45 ? 62 : 18;
  state.gear = state.speed < 1 ? 1 : Math.min(6, 1 + Math.floor(state.speed / 22));
  state.engine = state.speed < 4 ? 750 : (state.speed * 310) / (state.gear + 1.6);
  state.load = phase < 20 ? 21 : phase < 45 ? 78 : phase < 100 ? 34 + change : 9;
  state.heat = Math.sin((i / CYCLE) * 2 * Math.PI);
}

/** Rows of the cycle without their time cell, each with its line end. */
function tails(form: Form, seed: number): string[] {
  const random = new Random(seed);
  const state: State = { speed: 0, engine: 750, pedal: 0, gear: 1, load: 20, heat: 0 };
  const rows: string[] = [];
  for (let i = 0; i < CYCLE; i++) {
    advance(state, i);
    const cells = COLUMNS.map((each) => {
      const text = each.value(state, random.next()).toFixed(each.decimals);
      // One cell in a hundred is empty, as in a log of several rates.
      const empty = form === 'decimal-comma' && random.next() < 0.01;
      return empty ? '' : written(text, form);
    });
    rows.push(`${cells.join(delimiterOf(form))}\n`);
  }
  return rows;
}

export const delimiterOf = (form: Form): ',' | ';' => (form === 'decimal-comma' ? ';' : ',');

function written(text: string, form: Form): string {
  if (form === 'decimal-comma') return text.replace('.', ',');
  return form === 'quoted' ? `"${text}"` : text;
}

/** Writes the file unless it is there with this name. @returns its size in bytes. */
export function writeRecording(path: string, form: Form, rows: number, seed: number): number {
  if (existsSync(path)) return statSync(path).size;
  const body = tails(form, seed);
  const partial = `${path}.partial`;
  const file = openSync(partial, 'w');
  const quoted = form !== 'plain';
  writeSync(file, `${LABELS.map((label) => (quoted ? `"${label}"` : label)).join(delimiterOf(form))}\n`);
  let text = '';
  for (let i = 0; i < rows; i++) {
    text += written((i / RATE).toFixed(2), form) + delimiterOf(form) + body[i % CYCLE]!;
    if (text.length > 4 << 20 || i === rows - 1) {
      writeSync(file, text);
      text = '';
    }
  }
  closeSync(file);
  renameSync(partial, path);
  return statSync(path).size;
}
