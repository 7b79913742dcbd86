import { describe, expect, it } from 'vitest';
import { selection } from '../../../src/rules/transmission/selection.js';
import { car, driveOf } from '../helpers.js';
import { tell } from './gears.js';

const HZ = 20;

interface Exercise {
  readonly delay?: number;
  readonly times?: number;
  readonly fluid?: number;
  readonly brake?: number;
  /** s for which the third D lets go again. */
  readonly drop?: number;
  /** The brake goes on as it lets go, and off as it takes up again: standstill decoupling. */
  readonly hold?: boolean;
  /** Code of reverse. */
  readonly reverse?: number;
  /** Gear shown in N. */
  readonly ready?: number;
  readonly firstDelay?: number;
  readonly hz?: number;
  /** Fresh gears per second, held over the rows; each row when left out. */
  readonly refresh?: number;
  /** Gears of the starts that follow. */
  readonly starts?: readonly number[];
  readonly mode?: number;
  readonly target?: number;
}

/** N-D-N-R over and over, eight seconds each, then starts from standstill. */
function exercise(e: Exercise) {
  const { delay = 0.5, times = 4, fluid = 60, brake = 1, drop = 0, reverse = -1, ready = 0, hz = HZ } = e;
  const rows: number[][] = [];
  const push = (selector: number, gear: number, speed: number, b: number): void => {
    rows.push([selector, gear, speed, b]);
  };
  for (let k = 0; k < times; k++) {
    for (const to of [3, 1]) {
      for (let i = 0; i < 4 * hz; i++) push(2, ready, 0, brake);
      const late = k === 0 && to === 3 ? (e.firstDelay ?? delay) : delay;
      for (let i = 0; i < 8 * hz; i++) {
        const t = i / hz;
        const out = to === 3 && k === 2 && drop > 0 && t >= 4 && t < 4 + drop;
        const b = e.hold === true && to === 3 && k === 2 && t >= 1 && !out ? 0 : brake;
        push(to, t + 1e-9 < late || out ? 0 : to === 3 ? 1 : reverse, 0, b);
      }
    }
  }
  for (const gear of e.starts ?? []) {
    for (let i = 0; i < 3 * hz; i++) push(3, gear, 0, 1);
    for (let i = 0; i < 6 * hz; i++) push(3, gear, (i / hz) * 4, 0);
    for (let i = 0; i < 2 * hz; i++) push(3, 2, 24 - (i / hz) * 12, 1);
  }
  const time = Float64Array.from(rows, (_, i) => i / hz);
  const column = (c: number) => Float64Array.from(rows, (row) => row[c]!);
  const every = Math.round(hz / (e.refresh ?? hz));
  const held = (values: Float64Array) => values.map((_, i) => values[i - (i % every)]!);
  return driveOf(
    time,
    {
      selector: column(0),
      gear: { values: held(column(1)), quality: { groupRate: hz / every } },
      vehicleSpeed: column(2),
      brakeSwitch: column(3),
      transmissionOilTemperature: time.map((_, i) => fluid + (i % 2)),
      coolantTemperature: time.map((_, i) => fluid + (i % 2)),
      ...(e.mode === undefined ? {} : { driveMode: time.map(() => e.mode!) }),
      ...(e.target === undefined ? {} : { gearTarget: time.map(() => e.target!) }),
    },
    car({ transmission: { kind: 'dual-clutch' } }),
  );
}

describe('transmission.selection', () => {
  it.each([
    [0.5, 'clear', undefined],
    [1.5, 'clear', undefined],
    [1.65, 'finding', 'watch'],
    [3, 'finding', 'watch'],
    [3.2, 'finding', 'repair'],
  ])('takes %f s: %s %s', (delay, outcome, severity) => {
    const result = tell(selection, exercise({ delay }));
    expect(result.outcome).toBe(outcome);
    expect(result.severity).toBe(severity);
    expect(Math.abs((result.measures!['delay.D']!.value as number) - delay)).toBeLessThan(0.06);
  });

  it.each([
    [0.3, undefined],
    [0.7, 'repair'],
    [2.2, 'stop'],
  ])('lets go again for %f s: %s', (drop, severity) => {
    expect(tell(selection, exercise({ drop })).severity).toBe(severity);
  });

  it('takes standstill decoupling and automatic hold, which follow the brake, for no drop-out', () => {
    expect(tell(selection, exercise({ drop: 2.2, hold: true })).outcome).toBe('clear');
  });

  it('needs three selections of each and names them', () => {
    const result = tell(selection, exercise({ times: 2, delay: 2 }));
    expect(result.outcome).toBe('unproven');
    expect(result.missing?.conditions.join()).toMatch(/>= 3 selections/);
  });

  it('does not time cold fluid, a released brake or a gear held ready', () => {
    expect(tell(selection, exercise({ delay: 2, fluid: 10 })).outcome).toBe('unproven');
    expect(tell(selection, exercise({ delay: 2, brake: 0 })).outcome).toBe('unproven');
    expect(tell(selection, exercise({ delay: 2, ready: 1 })).outcome).toBe('unproven');
  });

  it.each([-1, 14, 15])('reads reverse coded as %i', (reverse) => {
    expect(tell(selection, exercise({ reverse })).outcome).toBe('clear');
  });

  it('asks for a faster log where rows are too far apart', () => {
    const result = tell(selection, exercise({ hz: 1, delay: 1 }));
    expect(result.outcome).toBe('unproven');
    expect(result.missing?.conditions.join()).toMatch(/Hz/);
  });

  it('times slow logs within their bounds, and asks for the rate that shows a drop-out', () => {
    const slow = tell(selection, exercise({ hz: 2 }));
    expect(slow).toMatchObject({ outcome: 'unproven', missing: { conditions: ['selector and gear at >= 4 Hz'] } });
    expect(slow.summary).toMatch(/let go again for 0.5 s does not show in 2 values a second/);
    expect(tell(selection, exercise({ hz: 2, delay: 2.6 })).severity).toBe('watch');
    expect(tell(selection, exercise({ hz: 4 })).outcome).toBe('clear');
  });

  it('takes a gear that is read once a second in ten rows to have come up to a second earlier', () => {
    expect(tell(selection, exercise({ hz: 10, refresh: 1, delay: 1.1 })).outcome).toBe('unproven');
    expect(tell(selection, exercise({ hz: 10, refresh: 1, delay: 1.1, drop: 0.6 })).outcome).toBe('unproven');
    expect(tell(selection, exercise({ hz: 10, refresh: 1, delay: 4 })).severity).toMatch(/watch|repair/);
  });

  it('finds second gear in place of first: watch, repair beside starts in first, stop when wanted and never there', () => {
    expect(tell(selection, exercise({ starts: [1, 1, 1] })).outcome).toBe('clear');
    expect(tell(selection, exercise({ starts: [2, 2] })).severity).toBe('watch');
    expect(tell(selection, exercise({ starts: [1, 2, 1] })).severity).toBe('repair');
    expect(tell(selection, exercise({ starts: [2, 2], target: 1 })).severity).toBe('repair');
    expect(tell(selection, exercise({ starts: [2, 2, 2], target: 1 })).severity).toBe('stop');
    // Winter mode starts in second gear on purpose.
    expect(tell(selection, exercise({ starts: [2, 2, 2], mode: 5 })).outcome).toBe('clear');
  });

  it('finds a first engagement after a long rest that takes much longer than the later ones', () => {
    expect(tell(selection, exercise({ firstDelay: 2.4, fluid: 25 })).severity).toBe('watch');
    expect(tell(selection, exercise({ firstDelay: 1.8, fluid: 25 })).outcome).toBe('clear');
    // Warm fluid: the car had not rested.
    expect(tell(selection, exercise({ firstDelay: 2.4, fluid: 60 })).outcome).toBe('clear');
  });

  it('says of each event what is usual for this car and which limit it passed, the longest drop-out first', () => {
    const events = (result: unknown) => (result as { events: readonly object[] }).events;
    const late = tell(selection, exercise({ delay: 2 }));
    expect(events(late)).toHaveLength(8);
    for (const event of events(late)) expect(event).toMatchObject({ usual: {}, limit: { value: 1.5, unit: 's' } });
    const drop = tell(selection, exercise({ drop: 1 }));
    expect(events(drop)).toMatchObject([{ kind: 'drop-out', selected: 'D', limit: { value: 0.5, unit: 's' } }]);
  });
});
