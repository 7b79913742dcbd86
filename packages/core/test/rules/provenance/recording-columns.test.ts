import { describe, expect, test } from 'vitest';
import { recording } from '../../../src/rules/provenance/recording.js';
import { car, driveOf, runRule } from '../helpers.js';
import { type Columns, drive, judged, measure, STEP } from './recording-drive.js';

describe('steps of a column', () => {
  test('a stretch multiplied without them is told, whatever the column', () => {
    const { time, columns } = drive();
    const pedalPosition = columns.pedalPosition!.map((x, i) => (i > 1000 && i < 1450 ? x * 0.93 : x));
    const result = judged(time, { ...columns, pedalPosition });
    expect(result).toMatchObject({ outcome: 'finding', severity: 'repair' });
    expect(measure(result, 'edited')).toBe(1);
    expect(result.summary).toMatch(/pedal position is written in steps of 0\.4, and from 3:2\d to 4:[45]\d/);
  });

  test('a stretch that was written in them again is not', () => {
    const { time, columns } = drive();
    const pedalPosition = columns.pedalPosition!.map((x, i) =>
      i > 1000 && i < 1450 ? Math.round((x * 0.93) / 0.4) * 0.4 : x,
    );
    expect(judged(time, { ...columns, pedalPosition })).toMatchObject({ outcome: 'clear' });
  });

  test.each([
    ['in degrees Fahrenheit converted', (x: number) => ((x * 1.8 + 32) / 1.8) * 1 - 32 / 1.8],
    ['with decimals that round its steps', (x: number) => Math.round(((x / 0.4) * 100) / 255 / 0.01) * 0.01],
    ['as computed numbers', (x: number) => x * (1 + 1e-4 * Math.sin(x * 999))],
  ])('a column %s is none', (_, f) => {
    const { time, columns } = drive();
    const pedalPosition = columns.pedalPosition!.map(f);
    expect(measure(judged(time, { ...columns, pedalPosition }), 'edited')).toBe(0);
  });
});

describe('columns of one quantity over the whole recording', () => {
  const whole = (columns: Columns, id: string, factor: number): Columns => ({
    ...columns,
    [id]: columns[id]!.map((x) => Math.round((x * factor) / STEP[id]!) * STEP[id]!),
  });

  // Bounds: 8 % under; a tenth, 4 km/h at 40 km/h and 8 % over (UN R39, from memory).
  test.each([
    [0.93, 0],
    [0.91, 1],
    [1.28, 0],
    [1.32, 1],
  ])('a road speed that reads %d of the wheels: %d', (factor, count) => {
    const { time, columns } = drive();
    const result = judged(time, whole(columns, 'vehicleSpeed', factor));
    expect(measure(result, 'apart')).toBe(count);
    if (count === 1) expect(result).toMatchObject({ outcome: 'finding', severity: 'watch' });
  });

  test('miles taken for kilometres are called by their name', () => {
    const { time, columns } = drive();
    const result = judged(time, whole(columns, 'vehicleSpeed', 1 / 1.609344));
    expect(result.summary).toContain('from miles to kilometres');
  });

  test('of three road speeds the odd one is named', () => {
    const { time, columns } = drive();
    const gpsSpeed = columns.vehicleSpeed!.map((x) => x * 0.8);
    const result = judged(time, { ...columns, gpsSpeed });
    expect(result.summary).toMatch(
      /contradict each other: gps speed reads 0\.8 times wheel speed.*and vehicle speed sides with the latter/,
    );
  });

  // Slip of clutch or converter: 6 % under, 15 % (0.14 in logarithms) over.
  test.each([
    [0.95, 0],
    [0.93, 1],
    [1.14, 0],
    [1.17, 1],
  ])('engine speed %d of its input shaft: %d', (factor, count) => {
    const { time, columns } = drive();
    const inputShaftSpeed = columns.engineSpeed!.map((x) => x);
    expect(measure(judged(time, { ...whole(columns, 'engineSpeed', factor), inputShaftSpeed }), 'apart')).toBe(count);
  });

  test('gears of two input shafts: the one engaged counts', () => {
    const { time, columns } = drive();
    const gear = time.map((t) => (t % 60 < 30 ? 3 : 4));
    const own = columns.engineSpeed!;
    const shafts = {
      gear,
      'inputShaftSpeed.clutch1': own.map((x, i) => (gear[i] === 3 ? x : 1.3 * x)),
      'inputShaftSpeed.clutch2': own.map((x, i) => (gear[i] === 4 ? x : 0.77 * x)),
    };
    expect(measure(judged(time, { ...columns, ...shafts }), 'apart')).toBe(0);
    expect(measure(judged(time, { ...whole(columns, 'engineSpeed', 0.85), ...shafts }), 'apart')).toBe(1);
  });

  // 120 g/s at 6000 rpm in 3.0 L: 2.4 g a cycle over 3.552 g = 67.6 % (SAE J1979 PID 43: 1.184 g/L, from memory).
  test.each([
    [1, 0],
    [1.15, 1],
    [0.85, 1],
  ])('absolute load %d of what air mass makes: %d', (factor, count) => {
    const { time, columns } = drive();
    const air = columns.airMassFlow!.map((x) => 4 * x);
    const engineSpeed = time.map((t) => 6000 + 300 * Math.sin(t / 9));
    const engineLoadAbsolute = air.map((x, i) => factor * (67.567567 / 120) * 6000 * (x / engineSpeed[i]!));
    const made = driveOf(
      time,
      { ...columns, airMassFlow: air, engineSpeed, engineLoadAbsolute },
      car({ engine: { displacement: 3 } }),
    );
    expect(measure(runRule(recording, made), 'apart')).toBe(count);
  });

  test('an engine speed that was cut off, beside its shaft and beside the road speed', () => {
    const { time, columns } = drive();
    const own = columns.engineSpeed!;
    const engineSpeed = {
      values: own.map((x) => Math.min(x, 2600)),
      quality: { saturated: [22, 129, 236].map((from) => ({ from, to: from + 8 })) },
    };
    const shaft = judged(time, { ...columns, engineSpeed, inputShaftSpeed: own });
    expect(shaft).toMatchObject({ outcome: 'finding', severity: 'watch' });
    expect(shaft.summary).toMatch(
      /engine speed lies flat on 2600 rpm 3 times.*input shaft speed reads (2[6-9]|30)\d\d rpm/,
    );
    expect(judged(time, { ...columns, engineSpeed }).summary).toMatch(/vehicle speed reads [89]\d km\/h/);
  });

  // Before an open throttle: what cooler and pipe take, 16 %; more than before it, 6 %.
  test.each([
    [0.85, 0],
    [0.82, 1],
    [1.05, 0],
    [1.08, 1],
  ])('manifold pressure %d of the charge pressure at an open throttle: %d', (factor, count) => {
    const { time, columns } = drive();
    const boosting = time.map((t) => (t % 40 < 20 ? 1 : 0));
    const throttlePosition = time.map((_, i) => (boosting[i] === 1 ? 82 : 20));
    const boostPressure = time.map((t, i) => (boosting[i] === 1 ? 190 + 10 * Math.sin(t) : 105));
    const manifoldPressure = time.map((_, i) => (boosting[i] === 1 ? factor * boostPressure[i]! : 50));
    const result = judged(time, { ...columns, throttlePosition, boostPressure, manifoldPressure });
    expect(measure(result, 'apart')).toBe(count);
  });

  test('one wheel without the noise of the other three', () => {
    const wheels = (seed: number): Columns => ({
      'wheelSpeed.rearLeft': drive(600, seed).columns['wheelSpeed.frontLeft']!,
      'wheelSpeed.rearRight': drive(600, seed).columns['wheelSpeed.frontRight']!,
    });
    const { time, columns } = drive();
    const four = { ...columns, ...wheels(2) };
    expect(measure(judged(time, four), 'apart')).toBe(0);
    const raw = four['wheelSpeed.rearRight']!;
    const smooth = raw.map((x, i) =>
      i < 6 || i > raw.length - 7
        ? x
        : Math.round((100 * raw.subarray(i - 6, i + 7).reduce((sum, y) => sum + y, 0)) / 13) / 100,
    );
    const result = judged(time, { ...four, 'wheelSpeed.rearRight': smooth });
    expect(measure(result, 'apart')).toBe(1);
    expect(result.summary).toMatch(/rear right.*of the noise of 3 other wheels/i);
  });

  test('columns that nothing recorded contradicts are named', () => {
    const { time, columns } = drive();
    expect(JSON.stringify(judged(time, columns))).toMatch(
      /Not shown: whether a column was changed over its whole length.*coolant temperature/,
    );
  });
});
