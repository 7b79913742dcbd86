import { describe, expect, it } from 'vitest';
import { buildRecording } from '../../src/recording/build.js';
import type { Recording } from '../../src/recording/recording.js';
import { realFile, realTable } from './real-table.js';

function recordingOf(path: string, layout: Parameters<typeof realTable>[1]): Recording {
  const result = buildRecording(realTable(path, layout));
  if (!result.ok) throw new Error(result.fault.message);
  return result.recording;
}

function firstAt(recording: Recording, id: string, level: number): number {
  const { values } = recording.channels.get(id)!;
  return recording.time[values.findIndex((x) => x >= level - 1e-9)]!;
}

/** Kilometres by the trapezoidal rule; NaN rows are stepped over. */
function distance(recording: Recording, id: string): number {
  const { values } = recording.channels.get(id)!;
  let sum = 0;
  for (let i = 1; i < values.length; i++) {
    const step = ((values[i]! + values[i - 1]!) / 2 / 3600) * (recording.time[i]! - recording.time[i - 1]!);
    if (!Number.isNaN(step)) sum += step;
  }
  return sum;
}

// European Commission JRC, road trip in the RDE data-exchange format; the facts are those of the SOURCE.md beside it.
const rde = realFile('jrc-rde-sample/Sample_Data_Exchange_File.csv');

describe.skipIf(rde === undefined)('regulation road trip', () => {
  const recording = recordingOf(rde!, { headerLine: 198, sourceRow: true, unitRow: true, timeColumn: 0 });
  const channel = (id: string) => recording.channels.get(id)!;

  it('takes the control unit for the road speed and GPS for its own channel', () => {
    expect(channel('vehicleSpeed').quality.samples).toBe(recording.rows);
    expect(distance(recording, 'vehicleSpeed')).toBeCloseTo(90.553, 1);
    expect(distance(recording, 'gpsSpeed')).toBeCloseTo(91.01, 1);
    expect(channel('vehicleSpeed').values.reduce((a, b) => Math.max(a, b), 0)).toBeCloseTo(127.9, 0);
  });

  it('keeps every coolant sample and its warm-up times', () => {
    expect(channel('coolantTemperature').quality.samples).toBe(recording.rows);
    expect(channel('coolantTemperature').values[0]).toBeCloseTo(17, 9);
    for (const [level, seconds] of [
      [40, 166],
      [60, 346],
      [80, 552],
      [90, 662],
    ] as const) {
      expect(firstAt(recording, 'coolantTemperature', level)).toBe(seconds);
    }
  });

  it('rejects the oil temperature that stands on its sentinel and the 46 torque markers', () => {
    expect(recording.channels.has('engineOilTemperature')).toBe(false);
    const rejected = recording.problems.find(
      (p) => p.code === 'constant-unsupported' && p.channel === 'engineOilTemperature',
    );
    expect(rejected).toBeDefined();
    expect(channel('engineTorque').quality.removed).toMatchObject({ sentinel: 46, implausible: 0, spike: 0 });
    const markers = recording.problems.find((p) => p.code === 'sentinels-removed' && p.channel === 'engineTorque')!;
    expect(markers).toMatchObject({ count: 46, from: 3156, to: 3902 });
  });

  it('calls nothing frozen, saturated or spiky', () => {
    for (const { id, quality } of recording.channels.values()) {
      expect(
        `${id} ${quality.removed.spike} ${quality.removed.implausible} ${quality.frozen.length} ${quality.saturated.length}`,
      ).toBe(`${id} 0 0 0 0`);
    }
  });

  it('reports all 52 columns, and refresh at the row rate', () => {
    expect(recording.columns).toHaveLength(52);
    expect(channel('engineSpeed').quality.rate).toBeCloseTo(1, 2);
    expect(channel('coolantTemperature').quality.groupRate).toBeCloseTo(1, 2);
  });
});

// One petrol car, researcher's own firmware (IEEE 8891367); the facts are those of the SOURCE.md beside it.
describe.each(['drive5', 'idle1', 'live20', 'live6'])('single-car log %s', (name) => {
  const path = realFile(`carobd/${name}.csv`);

  it.skipIf(path === undefined)('is read with units by their values and keeps its genuine samples', () => {
    const recording = recordingOf(path!, { headerLine: 1, period: 0.5 });
    const channel = (id: string) => recording.channels.get(id)!;
    for (const id of [
      'engineSpeed',
      'vehicleSpeed',
      'coolantTemperature',
      'manifoldPressure',
      'barometricPressure',
      'engineLoad',
    ]) {
      expect(`${id} ${recording.channels.has(id)}`).toBe(`${id} true`);
    }
    expect(channel('coolantTemperature').unit).toBe('degC');
    const coolant = channel('coolantTemperature').values;
    expect(coolant.reduce((a, b) => Math.min(a, b))).toBeGreaterThanOrEqual(20);
    expect(coolant.reduce((a, b) => Math.max(a, b))).toBeLessThanOrEqual(96);
    expect(recording.channels.has('lambdaTarget')).toBe(false);
    expect(recording.problems.filter((p) => p.code === 'constant-unsupported').length).toBeGreaterThanOrEqual(
      name === 'live6' ? 1 : 2,
    );
    for (const { id, quality } of recording.channels.values()) {
      const { removed } = quality;
      expect(
        `${id} ${removed.sentinel} ${removed.spike} ${removed.implausible} ${quality.frozen.length} ${quality.saturated.length}`,
      ).toBe(`${id} 0 0 0 0 0`);
    }
    // Key-on rows: the intake reads the atmosphere.
    const keyOn = channel('engineSpeed').values.findIndex((n) => n > 0);
    expect(keyOn).toBeGreaterThan(0);
    expect(
      Math.abs(channel('manifoldPressure').values[0]! - channel('barometricPressure').values[0]!),
    ).toBeLessThanOrEqual(2);
  });
});
