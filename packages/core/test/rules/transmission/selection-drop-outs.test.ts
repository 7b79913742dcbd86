import { describe, expect, it } from 'vitest';
import { selection } from '../../../src/rules/transmission/selection.js';
import { car, driveOf } from '../helpers.js';
import { tell } from './gears.js';

const HZ = 20;

interface Halt {
  /** Seconds for which each drop-out lasts. */
  readonly drops: readonly number[];
  /** What the brake does: held, let go as the gear comes back (or a moment later), or never pressed. */
  readonly brake?: 'held' | 'follows' | 'follows late' | 'off' | 'absent';
  readonly engineStops?: boolean;
  readonly fluid?: number;
}

/** No selector test: from P straight to D, a drive, then a halt of ten seconds for each drop-out, D all along. */
function halts({ drops, brake = 'held', engineStops = false, fluid = 70 }: Halt) {
  const rows: number[][] = [];
  const push = (selector: number, gear: number, speed: number, b: number, engine = 800): void => {
    rows.push([selector, gear, speed, b, engine]);
  };
  for (let i = 0; i < 3 * HZ; i++) push(0, 0, 0, 1);
  for (let i = 0; i < 2 * HZ; i++) push(3, i < 0.4 * HZ ? 0 : 1, 0, 1);
  for (const drop of drops) {
    for (let i = 0; i < 10 * HZ; i++) push(3, 1 + Math.min(3, Math.floor(i / 40)), 10 + i / HZ, 0, 2000);
    for (let i = 0; i < 3 * HZ; i++) push(3, 1, Math.max(0, 20 - i), 1);
    for (let i = 0; i < 10 * HZ; i++) {
      const t = i / HZ;
      const out = t >= 4 && t < 4 + drop;
      const pressed = {
        held: 1,
        absent: 1,
        off: 0,
        follows: t < 4 + drop ? 1 : 0,
        'follows late': t < 4 + drop + 0.25 ? 1 : 0,
      }[brake];
      push(3, out ? 0 : 1, 0, pressed, engineStops && out ? 0 : 800);
    }
  }
  for (let i = 0; i < 2 * HZ; i++) push(3, 1, i / 2, 0, 1500);
  const column = (c: number) => Float64Array.from(rows, (row) => row[c]!);
  const time = Float64Array.from(rows, (_, i) => i / HZ);
  return driveOf(
    time,
    {
      selector: column(0),
      gear: column(1),
      vehicleSpeed: column(2),
      ...(brake === 'absent' ? {} : { brakeSwitch: column(3) }),
      engineSpeed: column(4),
      transmissionOilTemperature: time.map((_, i) => fluid + (i % 2)),
    },
    car({ transmission: { kind: 'dual-clutch' } }),
  );
}

describe('transmission.selection, drop-outs without a selector test', () => {
  // Rows are 0.05 s apart: what drops out for a number of rows is seen for one row less.
  it.each([
    [[2.6, 1.5, 1.5], 'stop'],
    [[2.05, 1], 'stop'],
    [[1.95, 1], 'repair'],
    [[0.55, 0.55], 'repair'],
    [[2.6], 'watch'],
  ] as const)('%j s: %s', (drops, severity) => {
    const result = tell(selection, halts({ drops }));
    expect(result).toMatchObject({ outcome: 'finding', severity });
    expect(result.summary).toContain('at halts with the brake held');
  });

  it.each([
    ['too short', { drops: [0.45, 0.45, 0.45] }],
    ['decoupling that ends with the brake', { drops: [3, 3, 3], brake: 'follows' }],
    ['decoupling that ends just before the switch of the brake tells', { drops: [3, 3, 3], brake: 'follows late' }],
    ['automatic hold, ended by the pedal', { drops: [3, 3, 3], brake: 'off' }],
    ['no brake recorded', { drops: [3, 3, 3], brake: 'absent' }],
    ['an engine that is stopped at halts', { drops: [3, 3, 3], engineStops: true }],
    ['cold fluid', { drops: [3, 3, 3], fluid: 10 }],
  ] as const)('%s', (_name, halt) => {
    expect(tell(selection, halts(halt)).outcome).toBe('unproven');
  });
});
