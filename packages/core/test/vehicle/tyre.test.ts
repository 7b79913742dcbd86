import { describe, expect, it } from 'vitest';
import { powerOf } from '../../src/physics/torque.js';
import { overallRatio, parseTyre } from '../../src/vehicle/tyre.js';
import { hasValidation, sharedText, WHERE } from '../math/published.js';

// Tyre tables of the ETRTO kind as collected in validation/tyre.csv (its README names the sources).
describe.skipIf(!hasValidation)(`tyre sizes of the published table${WHERE}`, () => {
  const rows = hasValidation ? sharedText('validation/tyre.csv').trim().split(/\r?\n/).slice(1) : [];
  it.each(rows)('%s', (row) => {
    const [size, geometric, , circumference, , turns] = row.split(',');
    const tyre = parseTyre(size!)!;
    expect(tyre.diameter).toBeCloseTo(Number(geometric), 6);
    expect(tyre.circumference * 1000).toBeCloseTo(Number(circumference), 6);
    expect(1000 / tyre.circumference).toBeCloseTo(Number(turns), 3);
  });

  const examples: { id: string; inputs: Record<string, number>; expected: unknown }[] = hasValidation
    ? JSON.parse(sharedText('validation/physics-examples.json'))
    : [];
  const example = (id: string) => examples.find((each) => each.id === id)!;

  it('speed and tractive force in third gear (university course dinvei, propulsion limits, exercise 1, published output)', () => {
    const { inputs, expected } = example('gear-speed-seen');
    const published = expected as { v_kmh: number; F_N: number };
    // The exercise rolls on the geometric radius, 0.2888 m.
    const geometric = (Math.PI * parseTyre('185/60R14')!.diameter) / 1000;
    const speed = inputs.rpm! / overallRatio(inputs.gear!, inputs.final!, geometric);
    expect(speed / published.v_kmh).toBeCloseTo(1, 9);
    // Power in is power out: F v = eta T omega.
    const force = (inputs.eta! * powerOf(inputs.T_Nm!, inputs.rpm!) * 1000) / (speed / 3.6);
    expect(force / published.F_N).toBeCloseTo(1, 8);
  });

  it('speed at 1000 rpm (kinematics: v1000 = 120 pi r / i, worked example)', () => {
    const { inputs, expected } = example('speed-per-1000rpm');
    const turning = overallRatio(inputs.gear!, inputs.final!, 2 * Math.PI * inputs.r_m!);
    expect(1000 / turning / (expected as number)).toBeCloseTo(1, 9);
  });

  it('185/60R14 of the worked example: 0.5776 m', () => {
    const { expected } = example('tyre-185-60-14');
    expect(parseTyre('185/60R14')!.diameter / 1000).toBeCloseTo(expected as number, 9);
  });
});

describe('parseTyre', () => {
  it('reads speed-rated and spaced sizes, refuses others', () => {
    expect(parseTyre('245/40 ZR19')).toEqual(parseTyre('245/40R19'));
    expect(parseTyre('P195')).toBeUndefined();
  });
});

describe('overallRatio', () => {
  it('is the engine speed at 1 km/h: 3.5 x 4 on 2 m turns 116.67 times a minute', () => {
    expect(overallRatio(3.5, 4, 2)).toBeCloseTo((14 * (1000 / 60)) / 2, 9);
  });
});
