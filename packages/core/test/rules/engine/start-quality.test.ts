import { describe, expect, it } from 'vitest';
import { startQuality } from '../../../src/rules/engine/start-quality.js';
import { car, clock, driveOf, runRule, type Signal } from '../helpers.js';

interface Wish {
  /** Seconds of cranking before it runs. */
  readonly crank?: number;
  readonly coolant?: number;
  readonly rate?: number;
  /** Begins while the engine runs. */
  readonly late?: boolean;
  readonly fails?: boolean;
  readonly more?: Record<string, Signal>;
  readonly without?: readonly string[];
  readonly limits?: Record<string, Record<string, { value: number; unit: string }>>;
}

/** Ignition on, starter at 5 s, then idle. */
function drive(wish: Wish = {}) {
  const { crank = 0.8, coolant = 15, rate = 20, late = false, fails = false, more = {}, without = [], limits } = wish;
  const speed = (t: number) => (late ? 800 : t < 5 ? 0 : t < 5 + crank - 1e-9 ? 210 : fails ? 0 : 850);
  const signals: Record<string, Signal> = {
    engineSpeed: { values: (t) => speed(t) + (speed(t) > 0 ? Math.round(t * rate) % 3 : 0), quality: { rate } },
    coolantTemperature: { values: () => coolant, quality: { rate: 1 } },
    vehicleSpeed: () => 0,
    ...more,
  };
  for (const id of without) delete signals[id];
  return driveOf(clock(40, rate), signals, car(limits === undefined ? {} : { limits }));
}
const judged = (wish?: Wish) => runRule(startQuality, drive(wish));
const told = (wish?: Wish) => {
  const result = judged(wish);
  return result.outcome === 'finding' ? result.severity : result.outcome;
};

describe('limits, exactly on each and one step either side', () => {
  // At 20 Hz both ends are known to 0.05 s: a guard band of 0.034 s.
  it.each([
    [0.8, 15, 'clear'],
    [2, 15, 'clear'],
    [2.1, 15, 'watch'],
    [4, 15, 'watch'],
    [4.1, 15, 'repair'],
    [1.5, 90, 'clear'],
    [1.6, 90, 'watch'],
    [4, 90, 'watch'],
    [4.1, 90, 'repair'],
  ])('%f s at %f degrees', (crank, coolant, outcome) => {
    expect(told({ crank, coolant })).toBe(outcome);
  });

  it('measures the time, and says which start', () => {
    expect(judged({ crank: 2.5 })).toMatchObject({ measures: { cold: { value: expect.closeTo(2.5, 1) } } });
    expect(judged({ crank: 2.5 }).summary).toContain('A cold start took 2.5 s');
    expect(judged({ crank: 2.5, coolant: 90 }).summary).toContain('A warm start');
  });

  it('an engine that does not catch counts with the time it was cranked', () => {
    const result = judged({ crank: 6, fails: true });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(result.summary).toContain('did not keep running');
  });

  it('takes the limits of the profile', () => {
    const limits = { 'engine.start-quality': { 'cold-watch': { value: 3, unit: 's' } } };
    expect(told({ crank: 2.5, limits })).toBe('clear');
  });
});

describe('what must not fool it', () => {
  it('a recording that begins while the engine runs', () => {
    expect(judged({ late: true })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: [expect.stringContaining('a start from cold')] },
    });
  });

  it('restarts after an automatic stop', () => {
    const speed = (t: number) => (t < 12 || t > 22 ? 800 : t > 19 ? 200 : 0);
    const engineSpeed = {
      values: (t: number) => speed(t) + (speed(t) > 0 ? Math.round(t * 20) % 3 : 0),
      quality: { rate: 20 },
    };
    const startStopActive = { values: (t: number) => (t > 12 && t < 19 ? 1 : 0), quality: { rate: 20 } };
    expect(told({ more: { engineSpeed, startStopActive }, coolant: 90 })).toBe('unproven');
    expect(told({ more: { engineSpeed }, coolant: 90 })).toBe('watch');
    expect(told({ more: { engineSpeed, selector: { values: () => 3, quality: { rate: 20 } } }, coolant: 90 })).toBe(
      'unproven',
    );
  });

  it('slow logs', () => {
    expect(judged({ crank: 3, rate: 2 })).toMatchObject({
      outcome: 'unproven',
      missing: { conditions: ['engineSpeed at >= 5 Hz'] },
    });
  });
});

describe('what is missing', () => {
  it('without a temperature the limits of a cold start count, and it is said', () => {
    expect(told({ crank: 1.7, without: ['coolantTemperature'] })).toBe('clear');
    expect(JSON.stringify(judged({ without: ['coolantTemperature'] }))).toContain('No temperature recorded');
  });

  it('starts of several drives: the worst counts', () => {
    expect(runRule(startQuality, [drive(), drive({ crank: 5 })])).toMatchObject({
      outcome: 'finding',
      severity: 'repair',
    });
  });
});
