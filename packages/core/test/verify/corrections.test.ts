import { describe, expect, it } from 'vitest';
import { interpolate } from '../../src/math/interpolate.js';
import { admittedOf } from '../../src/verify/admitted.js';
import { axesOf, placeOn } from '../../src/verify/axes.js';
import { collectCorrection, correctionKind, correctionOf, noCorrection } from '../../src/verify/corrections.js';
import { readingsOf } from '../../src/verify/signal.js';
import type { Correction } from '../../src/verify/verification.js';
import { evenly } from '../math/random.js';
import { clock, driveOf } from '../rules/helpers.js';

const FLOWS = [5, 7, 10, 15, 20, 30, 45, 65, 90];

/**
 * Forty minutes at steady points, twelve seconds each, of a car whose air meter shows too little by `error` (factor over
 * flow); the long trim has learned two thirds, the short trim does the rest and swings slowly about it.
 */
function drivenWith(error: (flow: number) => number, seed: number): Correction {
  const random = evenly(seed);
  const time = clock(2400, 10);
  const points = Array.from({ length: 201 }, () => {
    const flow = 5 * Math.exp(random() * Math.log(18));
    return { flow, rpm: 1500 + 2500 * random(), long: 0, swing: 0.8 * (random() - 0.5) };
  });
  const at = (t: number) => points[Math.min(points.length - 1, Math.floor(t / 12))]!;
  let noise = 0;
  const noises = Array.from(time, () => {
    noise = 0.97 * noise + 0.5 * (random() - 0.5);
    return noise;
  });
  const row = (t: number): number => Math.round(10 * t);
  const flow = (t: number): number => at(t).flow * (1 + 0.002 * noises[row(t)]!);
  const long = (t: number): number => Math.round(100 * (error(at(t).flow) - 1) * (2 / 3));
  const drive = driveOf(time, {
    engineSpeed: (t) => at(t).rpm + 3 * noises[row(t)]!,
    vehicleSpeed: (t) => at(t).rpm / 40,
    airMassFlow: flow,
    manifoldPressure: (t) => 35 + at(t).flow / 2 + 0.1 * noises[row(t)]!,
    engineLoad: (t) => 15 + at(t).flow / 2 + 0.1 * noises[row(t)]!,
    coolantTemperature: (t) => 90 + Math.sin(t / 40),
    // Released at first: else the lightest load would be taken for the pedal's rest.
    pedalPosition: (t) => (t < 30 ? 14 : 22 + at(t).flow / 5),
    fuelSystemStatus: { values: () => 2, quality: { constant: true } },
    'fuelTrimLong.bank1': long,
    'fuelTrimShort.bank1': (t) =>
      100 * (error(flow(t)) / (1 + long(t) / 100) - 1) + at(t).swing + noises[row(t)]! * 0.6,
    'lambda.bank1': (t) => 1 + 0.004 * noises[row(t)]!,
    lambdaTarget: { values: () => 1, quality: { constant: true } },
  });
  const found = noCorrection(correctionKind(drive)!);
  collectCorrection(drive, admittedOf(drive), 0, undefined, found, readingsOf(drive));
  return correctionOf(found, axesOf(drive, undefined)!, {
    targets: new Map(),
    tables: { airMassFlow: FLOWS },
  })!;
}

// Issue: an injected error of 3 to 15 % is recovered within 1.5 points per node where support suffices; the interval covers.
describe('air meter', () => {
  const laws: Readonly<Record<string, (flow: number) => number>> = {
    'shows 12 % too little at low flow, 3 % at high': (f) =>
      interpolate(f, FLOWS, [1.12, 1.11, 1.1, 1.08, 1.06, 1.05, 1.04, 1.03, 1.03]),
    'shows 15 % too much': () => 0.85,
    'shows 8 % too much in the middle': (f) => interpolate(f, FLOWS, [1, 0.98, 0.95, 0.92, 0.92, 0.93, 0.96, 0.98, 1]),
  };
  it.each(Object.entries(laws))('%s: recovered', (_, law) => {
    let told = 0;
    let covered = 0;
    for (let seed = 1; seed <= 4; seed++) {
      for (const { at, enough, factor, low, high } of drivenWith(law, seed).nodes) {
        if (!enough) continue;
        told++;
        expect(Math.abs(factor! - law(at)), `${at} g/s`).toBeLessThan(0.015);
        if (low! <= law(at) && law(at) <= high!) covered++;
      }
    }
    expect(told).toBeGreaterThan(20);
    expect(covered / told).toBeGreaterThan(0.9);
  });

  it('suggests half, clipped, and nothing where there is nothing', () => {
    const found = drivenWith(() => 0.8, 5);
    for (const { suggested, enough } of found.nodes) if (enough) expect(suggested).toBeCloseTo(1 - 0.15 / 2, 9);
    expect(found.notes.join(' ')).toMatch(/Apply half, then verify again/);
    expect(found.notes.join(' ')).toMatch(/fuel scalar, explain it as well as the air meter/);
    const sound = drivenWith(() => 1, 6);
    expect(sound.nodes.filter(({ enough }) => enough).length).toBeGreaterThan(4);
    for (const { suggested, enough } of sound.nodes) if (enough) expect(suggested).toBe(1);
  });

  it('a node with too few visits says so', () => {
    const few = drivenWith(() => 1.1, 7).nodes.filter(({ visits }) => visits < 3);
    for (const { enough, factor, suggested } of few) expect([enough, factor, suggested]).toEqual([false, null, null]);
  });
});

const MESH = { engineSpeed: [1500, 2000, 2500, 3000, 3500, 4000], pressure: [30, 45, 60, 75, 90] } as const;

/** Two hours at steady points of engine speed and pressure of a car without an air meter; `error` = true air over counted air. */
function filledWith(error: (rpm: number, kPa: number) => number, seed: number): Correction {
  const random = evenly(seed);
  const time = clock(7200, 5);
  const points = Array.from({ length: 601 }, () => ({
    rpm: 1400 + 2700 * random(),
    kPa: 28 + 64 * random(),
    swing: 0.8 * (random() - 0.5),
  }));
  const at = (t: number) => points[Math.min(points.length - 1, Math.floor(t / 12))]!;
  let noise = 0;
  const noises = Array.from(time, () => {
    noise = 0.95 * noise + 0.5 * (random() - 0.5);
    return noise;
  });
  const row = (t: number): number => Math.round(5 * t);
  const long = (t: number): number => Math.round(100 * (error(at(t).rpm, at(t).kPa) - 1) * 0.6);
  const drive = driveOf(time, {
    engineSpeed: (t) => at(t).rpm + 3 * noises[row(t)]!,
    vehicleSpeed: (t) => at(t).rpm / 40,
    manifoldPressure: (t) => at(t).kPa + 0.1 * noises[row(t)]!,
    engineLoad: (t) => at(t).kPa + 0.1 * noises[row(t)]!,
    coolantTemperature: (t) => 90 + Math.sin(t / 40),
    pedalPosition: (t) => (t < 30 ? 14 : 20 + at(t).kPa / 6),
    fuelSystemStatus: { values: () => 2, quality: { constant: true } },
    'fuelTrimLong.bank1': long,
    'fuelTrimShort.bank1': (t) =>
      100 * (error(at(t).rpm, at(t).kPa) / (1 + long(t) / 100) - 1) + at(t).swing + noises[row(t)]! * 0.6,
    'lambda.bank1': (t) => 1 + 0.004 * noises[row(t)]!,
    lambdaTarget: { values: () => 1, quality: { constant: true } },
  });
  const found = noCorrection(correctionKind(drive)!);
  collectCorrection(drive, admittedOf(drive), 0, undefined, found, readingsOf(drive));
  const load = { channel: 'manifoldPressure', points: MESH.pressure };
  return correctionOf(found, { engineSpeed: MESH.engineSpeed, load, loadUnit: 'kPa' }, undefined)!;
}

describe('filling, by speed and pressure', () => {
  const laws: Readonly<Record<string, (rpm: number, kPa: number) => number>> = {
    'too little counted at low speed, 14 % falling to 3 %': (rpm) => 1.14 - (0.11 * (rpm - 1500)) / 2500,
    'too much counted at high pressure, 12 %': (_, kPa) => 1 - (0.12 * Math.max(0, kPa - 30)) / 60,
    'a hill of 9 % in the middle': (rpm, kPa) =>
      1 + 0.09 * Math.max(0, 1 - Math.abs(rpm - 2500) / 1000) * Math.max(0, 1 - Math.abs(kPa - 60) / 30),
  };
  it.each(Object.entries(laws))('%s: recovered within 1.5 points per node, and covered', (_, law) => {
    let told = 0;
    let covered = 0;
    for (let seed = 1; seed <= 2; seed++) {
      const found = filledWith(law, 40 + seed);
      expect(found).toMatchObject({ kind: 'speed-density', axis: { channel: 'manifoldPressure', unit: 'kPa' } });
      for (const { at, engineSpeed, enough, factor, low, high, suggested } of found.nodes) {
        if (!enough) continue;
        told++;
        const truth = law(engineSpeed!, at);
        expect(Math.abs(factor! - truth), `${engineSpeed} rpm, ${at} kPa`).toBeLessThan(0.015);
        if (low! <= truth && truth <= high!) covered++;
        // Half of the way, towards the truth.
        if (suggested !== 1) expect(Math.sign(suggested! - 1)).toBe(Math.sign(factor! - 1));
      }
    }
    expect(told).toBeGreaterThan(40);
    expect(covered / told).toBeGreaterThan(0.9);
  });
});

describe('axes', () => {
  it('place a value between its nodes, and drop what lies far outside', () => {
    expect(placeOn([0, 10, 30], 15)).toEqual({ at: 1, share: 0.25 });
    expect(placeOn([0, 10, 30], -4)).toEqual({ at: 0, share: 0 });
    expect(placeOn([0, 10, 30], -6)).toBeUndefined();
    expect(placeOn([0, 10, 30], 30)).toEqual({ at: 1, share: 1 });
    expect(placeOn([0, 10, 30], 39)).toEqual({ at: 1, share: 1 });
    expect(placeOn([0, 10, 30], 41)).toBeUndefined();
    expect(placeOn([0, 10, 30], Number.NaN)).toBeUndefined();
  });
});
