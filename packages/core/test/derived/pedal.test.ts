import { describe, expect, it } from 'vitest';
import { PEDAL_RELATIVE, type PedalRelative } from '../../src/derived/pedal-relative.js';
import { PEDAL_RELEASED } from '../../src/derived/pedal-released.js';
import { isRefusal } from '../../src/derived/recipe.js';
import { type DriveSpec, driveOf, ramp, sampled } from './helpers.js';

const HZ = 10;
const ROWS = 1201;
const speed = sampled(ROWS, HZ, ramp([0, 0], [20, 0], [40, 60], [100, 60], [110, 0]), 1);
/** A raw pedal: rest 16 %, here and there pressed to `top`. */
const raw = (top: number, ...presses: readonly (readonly [number, number])[]): Float64Array =>
  sampled(
    ROWS,
    HZ,
    (t) => {
      for (const [from, to] of presses) if (t >= from && t <= to) return top;
      return t > 21 && t < 95 ? 16 + 12 * Math.abs(Math.sin(t)) : 16;
    },
    0.392,
  );

function pedal(channels: DriveSpec['channels']): PedalRelative {
  const found = driveOf({ hz: HZ, channels: { vehicleSpeed: speed, ...channels } }).derive(PEDAL_RELATIVE);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe('PEDAL_RELATIVE', () => {
  it('takes rest from standstill and full from the end of travel that was seen: 16 .. 86 % raw', () => {
    const found = pedal({ pedalPosition: raw(86.24, [30, 33], [60, 63]) });
    expect(found.rest).toBeCloseTo(16, 0);
    expect(found.full).toBeCloseTo(86.24, 0);
    expect(found.fullSeen).toBe(true);
    expect(found.values[310]).toBeCloseTo(100, 0);
    expect(found.values[50]).toBeCloseTo(0, 1);
  });

  it('knows no end of travel when it was never pressed to the floor; then the values are lower bounds', () => {
    const found = pedal({ pedalPosition: raw(45, [30, 30.2]) });
    expect(found.fullSeen).toBe(false);
    expect(found.full).toBe(100);
    // 45 % raw is at most 45 - 16 of 84.
    expect(Math.max(...found.values)).toBeCloseTo((100 * (45 - 16)) / 84, 0);
  });

  it('is not fooled by a long steady press half way down', () => {
    expect(pedal({ pedalPosition: raw(50, [30, 60]) }).fullSeen).toBe(false);
  });

  it('is not fooled by the same press half way down again and again', () => {
    const half = sampled(ROWS, HZ, (t) => (t > 21 && t % 20 > 10 ? 50 : 0), 0.4);
    expect(pedal({ pedalPosition: half })).toMatchObject({ fullSeen: true, full: 100 });
    expect(pedal({ pedalPosition: raw(60, [30, 34], [50, 54], [70, 74]) }).fullSeen).toBe(false);
  });

  it('knows the scale of a pedal that the control unit scales to 0..100, where nobody pressed hard', () => {
    const gentle = sampled(ROWS, HZ, (t) => (t > 21 && t < 95 ? 30 * Math.abs(Math.sin(t)) : 0), 0.4);
    expect(pedal({ pedalPosition: gentle })).toMatchObject({ fullSeen: true, full: 100 });
  });

  it('does not trust that scale where an early end of travel could hide a pull', () => {
    const firm = sampled(
      ROWS,
      HZ,
      (t) => (t > 40 && t < 40.2 ? 72 : t > 21 && t < 95 ? 30 * Math.abs(Math.sin(t)) : 0),
      0.4,
    );
    expect(pedal({ pedalPosition: firm }).fullSeen).toBe(false);
  });

  it('prefers the relative pedal of the control unit, and a track that moves', () => {
    const relative = sampled(ROWS, HZ, (t) => (t > 30 && t < 33 ? 100 : 0), 0.4);
    expect(pedal({ pedalPositionRelative: relative, pedalPosition: raw(86, [30, 33]) }).source).toBe(
      'pedalPositionRelative',
    );
    expect(
      pedal({ pedalPosition: new Float64Array(ROWS).fill(16), 'pedalPosition.sensor2': raw(86, [30, 33]) }).source,
    ).toBe('pedalPosition.sensor2');
  });

  it('finds rest elsewhere when the pedal was held at every standstill', () => {
    const held = raw(86, [0, 20], [100, 120]);
    expect(pedal({ pedalPosition: held }).rest).toBeCloseTo(16, 0);
  });

  it('refuses without a pedal and names it; refuses one that never moves', () => {
    const none = driveOf({ hz: HZ, channels: { vehicleSpeed: speed } }).derive(PEDAL_RELATIVE);
    expect(isRefusal(none) && none.missing.channels).toEqual(['pedalPosition']);
  });
});

describe('PEDAL_RELEASED', () => {
  const engineSpeed = sampled(ROWS, HZ, ramp([0, 800], [20, 800], [40, 2500], [100, 2500], [110, 800]), 1);
  const pressed = (t: number): boolean => t > 20 && t < 100;

  it('follows the pedal where there is one', () => {
    const found = driveOf({
      hz: HZ,
      channels: { vehicleSpeed: speed, engineSpeed, pedalPosition: raw(86, [30, 33]) },
    }).derive(PEDAL_RELEASED);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found.certain).toBe(true);
    expect(found.mask[100]).toBe(1);
    expect(found.mask[310]).toBe(0);
  });

  it.each([
    [
      'throttlePosition',
      sampled(ROWS, HZ, (t) => (pressed(t) ? 35 + 10 * Math.sin(t) : 16.9 + 0.8 * Math.sin(3 * t)), 0.392),
    ],
    ['engineLoad', sampled(ROWS, HZ, (t) => (pressed(t) ? 60 + 10 * Math.sin(t) : 24 + 3 * Math.sin(3 * t)), 0.392)],
  ])('falls back on %s, less surely', (id, values) => {
    const found = driveOf({ hz: HZ, channels: { vehicleSpeed: speed, engineSpeed, [id]: values } }).derive(
      PEDAL_RELEASED,
    );
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found).toMatchObject({ certain: false, source: id });
    let wrong = 0;
    for (let i = 0; i < ROWS; i++) if ((found.mask[i] === 1) === pressed(i / HZ)) wrong++;
    expect(wrong).toBeLessThan(5);
  });

  it('refuses with nothing to go by, naming the pedal', () => {
    const found = driveOf({ hz: HZ, channels: { vehicleSpeed: speed } }).derive(PEDAL_RELEASED);
    expect(isRefusal(found) && found.missing.channels).toEqual(['pedalPosition']);
  });
});
