import { describe, expect, it } from 'vitest';
import { carById, fullSet, PLAIN, record, simulate, toCsv } from '../../../../scripts/simulate/index.js';
import { openDrive } from '../../src/engine/drive.js';
import { readTable } from '../../src/ingest/index.js';
import { buildRecording } from '../../src/recording/build.js';
import { UNKNOWN_VEHICLE } from '../../src/vehicle/vehicle.js';
import { dynamicsOf } from '../../src/verify/dynamics.js';
import { eventsOf } from '../../src/verify/events.js';
import { clock, driveOf } from '../rules/helpers.js';

/** Every twenty seconds the pedal goes down for five; the sensor answers 0.4 s late, and lean by `lean` for 0.5 s. */
function stamped(lean: number, hz = 20) {
  const time = clock(300, hz);
  const phase = (t: number): number => t % 20;
  const target = (t: number): number => (phase(t) >= 10 && phase(t) < 15 ? 0.86 : 1);
  const lambda = (t: number): number => {
    const then = t - 0.4;
    const noise = 0.002 * Math.sin(37 * t) * Math.cos(11 * t * t);
    return noise + target(then) + (phase(then) >= 10 && phase(then) < 10.5 ? lean : 0);
  };
  return driveOf(time, {
    engineSpeed: (t) => 2500 + (phase(t) >= 10 ? 60 * (phase(t) - 10) : 0) + 3 * Math.sin(7 * t),
    vehicleSpeed: (t) => 60 + (phase(t) >= 10 ? phase(t) - 10 : 0),
    pedalPosition: (t) => (t < 5 ? 0 : phase(t) >= 10 && phase(t) < 15 ? 90 : 15),
    lambdaTarget: target,
    'lambda.bank1': lambda,
  });
}

describe('tip-in', () => {
  it('finds how lean the engine runs, the lag of the sensor taken out', () => {
    const { events } = eventsOf(stamped(0.07), 'after');
    const tips = events.filter(({ kind }) => kind === 'tip-in');
    expect(tips.length).toBeGreaterThan(10);
    for (const { values } of tips) {
      expect(values['tip-in.lean']).toBeGreaterThan(0.06);
      expect(values['tip-in.lean']).toBeLessThan(0.08);
      expect(values['tip-in.rich']).toBeLessThan(0.02);
    }
  });

  it('calls no mixture that only comes late lean', () => {
    const { events } = eventsOf(stamped(0), 'after');
    expect(events.length).toBeGreaterThan(10);
    for (const { values } of events) {
      expect(values['tip-in.lean']).toBeLessThan(0.015);
      expect(values['tip-in.rich']).toBeLessThan(0.015);
    }
  });

  it('tells the change, one number a tip-in, and why there is none', () => {
    const both = [eventsOf(stamped(0.01), 'before'), eventsOf(stamped(0.07), 'after')];
    const lean = dynamicsOf(both).find(({ id }) => id === 'tip-in.lean')!;
    expect(lean.difference!.value).toBeGreaterThan(0.05);
    expect(lean.difference!.value).toBeLessThan(0.07);
    const slow = dynamicsOf([eventsOf(stamped(0.07, 2), 'after')]).find(({ id }) => id === 'tip-in.lean')!;
    expect(slow.after.events).toBe(0);
    expect(slow.notes.join(' ')).toMatch(/too seldom/);
  });
});

describe('upshifts at high load', () => {
  it('are found with their time (truth of the simulator) and the torque that is taken back', async () => {
    const car = carById('demo-saloon');
    const sim = simulate({
      seed: 5,
      car,
      warm: 92,
      ambient: { temperature: 15 },
      signalRate: 100,
      script: [
        { kind: 'gentleGears', to: 90 },
        { kind: 'stop', stand: 5 },
        { kind: 'launch', to: 150 },
        { kind: 'stop', stand: 5 },
        { kind: 'launch', to: 150 },
        { kind: 'stop', stand: 5 },
        { kind: 'cruise', speed: 60, duration: 30 },
      ],
    });
    const { bytes } = toCsv(record(sim, { seed: 5, rate: 50, channels: fullSet(car), disturbances: [] }), PLAIN);
    const read = await readTable(bytes, { name: 'drive.csv' });
    if (!read.ok) throw new Error(read.fault.message);
    const built = buildRecording(read.table);
    if (!built.ok) throw new Error(built.fault.message);
    const { events } = eventsOf(openDrive(built.recording, UNKNOWN_VEHICLE, 0), 'after');
    const shifts = events.filter(({ kind }) => kind === 'shift');
    expect(shifts.length).toBeGreaterThanOrEqual(3);
    for (const { at, values } of shifts) {
      const truth = sim.truth.shifts.find(({ t10 }) => Math.abs(t10 - at) < 0.6);
      expect(truth).toBeDefined();
      expect(Math.abs(values['shift.time']! - (truth!.t90 - truth!.t10))).toBeLessThan(0.04);
      expect(values['shift.torque']).toBeGreaterThanOrEqual(0);
    }
  });
});
