import Papa from 'papaparse';
import { describe, expect, it } from 'vitest';
import { isRefusal } from '../../src/derived/recipe.js';
import { speedStatistics, TRIP } from '../../src/derived/trip.js';
import { hasData, sharedText } from '../math/published.js';
import { driveOf, ramp, sampled } from './helpers.js';

const NOTE = hasData ? '' : ' (skipped: ../shared/data is absent)';

function trip(
  time: ArrayLike<number>,
  speed: ArrayLike<number>,
): { distance: number; bridged: number; movingTime: number; maxSpeed: number; meanSpeed: number; duration: number } {
  const found = driveOf({ time, channels: { vehicleSpeed: speed } }).derive(TRIP);
  if (isRefusal(found)) throw new Error(found.reason);
  return found;
}

describe.skipIf(!hasData)(`trip statistics of the NREL Transportation Secure Data Center (CMAP subset)${NOTE}`, () => {
  type Row = Record<string, string>;
  const read = (name: string): Row[] =>
    Papa.parse<Row>(sharedText(`data/nrel-tsdc-cmap/4033363_3_${name}.csv`), {
      header: true,
      skipEmptyLines: true,
      newline: '\n',
      delimiter: ',',
    }).data;
  const trips = hasData ? read('trips') : [];
  const days = hasData ? [...read('2007-08-20'), ...read('2007-08-21')] : [];
  const published = trips.filter((row) => /^2007-08-2[01]/.test(row.start_ts!));

  it('are eight trips', () => expect(published.length).toBe(8));

  it.each(published.map((row) => [row.start_ts!, row] as const))(
    '%s: 13 published statistics to every printed digit',
    (_, row) => {
      const rows = days.filter((day) => day.timestamp! >= row.start_ts! && day.timestamp! <= row.end_ts!);
      const time = rows.map((day) => Date.parse(`${day.timestamp!.replace(' ', 'T')}Z`) / 1000);
      const found = speedStatistics(
        time,
        rows.map((day) => Number(day.speed_mph)),
      );
      const expected: Record<string, number> = {
        speed_data_duration_hrs: found.recordedTime / 3600,
        driving_data_duration_hrs: found.drivingTime / 3600,
        distance_total: found.distance,
        max_speed: found.max,
        total_average_speed: found.mean,
        total_median_speed: found.median,
        total_speed_standard_deviation: found.deviation,
        driving_average_speed: found.drivingMean,
        zero_seconds: found.restTime,
        thirty_thirty_five_seconds: found.timeBetween(30, 35),
        max_gap_between_samples_s: found.gap.max,
        mean_gap_between_samples_s: found.gap.mean,
        median_gap_between_samples_s: found.gap.median,
      };
      expect(Object.keys(expected).length).toBe(13);
      for (const [name, value] of Object.entries(expected)) {
        const printed = row[name]!;
        const digits = printed.replace(/^-?0*\.?0*/, '').replace('.', '').length;
        // Half a unit of the last printed digit, at 12 digits at most: that is all that was printed.
        const tolerance =
          0.51 * 10 ** (Math.floor(Math.log10(Math.abs(Number(printed)) || 1)) + 1 - Math.max(digits, 12));
        expect(Math.abs(value - Number(printed)), `${name} ${value} ${printed}`).toBeLessThanOrEqual(
          Math.max(tolerance, 1e-11),
        );
      }
    },
  );
});

describe.skipIf(!hasData)(`regulatory driving cycles${NOTE}`, () => {
  const cycle = (name: string): { time: number[]; kmh: number[] } => {
    const text = sharedText(`data/nrel-fastsim-cycles/${name}.csv`).replace(/^\uFEFF/, '');
    const rows = text
      .trim()
      .split(/\r?\n/)
      .slice(1)
      .map((line) => line.split(',').map(Number));
    return { time: rows.map((r) => r[0]!), kmh: rows.map((r) => r[1]! * 3.6) };
  };

  // Published by US EPA (40 CFR 86 appendix I; 600 appendix I): 7.45 mi, 19.59 mph; 10.26 mi, 48.3 mph; 8.01 mi, 80.3 mph top. Miles of 1609.344 m.
  it.each([
    ['udds', 11990.4, 1369, 56.7, 19.59],
    ['hwfet', 16506.8, 765, 59.9, 48.27],
    ['us06', 12887.6, 600, 80.3, 48.05],
  ] as const)('%s', (name, metres, seconds, topMph, meanMph) => {
    const { time, kmh } = cycle(name);
    const found = trip(time, kmh);
    expect(Math.abs(found.distance * 1000 - metres)).toBeLessThan(0.06);
    expect(found.duration).toBe(seconds);
    expect(found.maxSpeed / 1.609344).toBeCloseTo(topMph, 1);
    expect(found.meanSpeed / 1.609344).toBeCloseTo(meanMph, 2);
    expect(found.bridged).toBe(0);
  });

  // UN Global Technical Regulation No. 15: class 3b 23266 m, 1800 s, 131.3 km/h.
  it.each([
    ['wltc_3b', 23266.3, 131.3],
    ['wltc_3a', 23193.6, 131.3],
  ] as const)('%s', (name, metres, top) => {
    const { time, kmh } = cycle(name);
    const found = trip(time, kmh);
    expect(Math.abs(found.distance * 1000 - metres)).toBeLessThan(0.06);
    expect(found.duration).toBe(1800);
    expect(found.maxSpeed).toBeCloseTo(top, 6);
  });

  // Sums of the speeds as in the table of the JRC's own code (UN Global Technical Regulation No. 15 annex 1 traces at 1 Hz).
  it.each([
    ['V_class1', 41139.6, 64.4],
    ['V_class2', 81536.9, 123.1],
    ['V_class3a', 83496.9, 131.3],
    ['V_class3b', 83758.6, 131.3],
  ] as const)('%s', (name, total, top) => {
    const speeds = sharedText(`data/jrc-wltp-cycles/${name}.txt`).trim().split(/\s+/).map(Number);
    const found = speedStatistics(
      speeds.map((_, i) => i),
      speeds,
    );
    expect(found.distance * 3600).toBeCloseTo(total, 6);
    expect(found.max).toBeCloseTo(top, 6);
    expect(
      trip(
        speeds.map((_, i) => i),
        speeds,
      ).distance,
    ).toBeCloseTo(total / 3600, 9);
  });

  it('the four phases of class 3b (published sums per phase)', () => {
    const phases = [
      ['class3-1-Low', 11140.3],
      ['class3-2b-Medium', 17121.2],
      ['class3-3b-High', 25782.2],
      ['class3-4-ExtraHigh', 29714.9],
    ] as const;
    for (const [name, total] of phases) {
      const rows = sharedText(`data/jrc-wltp-cycles/${name}.csv`)
        .trim()
        .split(/\r?\n/)
        .map((line) => line.split(',').map(Number));
      const found = speedStatistics(
        rows.map((r) => r[0]!),
        rows.map((r) => r[1]!),
      );
      expect(found.distance * 3600, name).toBeCloseTo(total, 6);
    }
  });
});

describe('TRIP', () => {
  it('bridges a gap only when the car moved on both sides of it', () => {
    const moving = trip([0, 1, 2, 32, 33, 34], [72, 72, 72, 72, 72, 72]);
    expect(moving.distance).toBeCloseTo((72 * 34) / 3600, 9);
    expect(moving.bridged).toBeCloseTo((72 * 30) / 3600, 9);
    const parked = trip([0, 1, 2, 3, 33, 34, 35], [36, 36, 36, 0, 0, 36, 36]);
    expect(parked.bridged).toBe(0);
    expect(parked.distance).toBeCloseTo((36 + 36 + 18 + 18 + 36) / 3600, 9);
  });

  it('does not depend on how often a logger repeats a value', () => {
    const f = ramp([0, 0], [20, 100], [60, 100], [80, 0]);
    const dense = driveOf({ hz: 50, channels: { vehicleSpeed: sampled(4001, 50, f, 0, 1) } }).derive(TRIP);
    const held = driveOf({ hz: 50, channels: { vehicleSpeed: sampled(4001, 50, f, 1, 25) } }).derive(TRIP);
    if (isRefusal(dense) || isRefusal(held)) throw new Error('refused');
    expect(dense.distance).toBeCloseTo((1000 + 4000 + 1000) / 3600, 4);
    expect(Math.abs(held.distance / dense.distance - 1)).toBeLessThan(0.005);
  });

  it('reads a multi-rate column, whose empty cells are no standstill', () => {
    const full = sampled(1001, 10, ramp([0, 0], [50, 100], [100, 0]));
    const sparse = full.map((v, i) => (i % 5 === 0 ? v : Number.NaN));
    const found = driveOf({
      hz: 10,
      channels: { vehicleSpeed: sparse, engineSpeed: sampled(1001, 10, (t) => 1000 + 200 * Math.sin(t)) },
    }).derive(TRIP);
    if (isRefusal(found)) throw new Error(found.reason);
    expect(found.distance).toBeCloseTo(5000 / 3600, 2);
  });

  it('names the channel that is missing', () => {
    const found = driveOf({ hz: 1, channels: { engineSpeed: [800, 900, 800] } }).derive(TRIP);
    expect(isRefusal(found) && found.missing.channels).toEqual(['vehicleSpeed']);
  });
});

describe('speedStatistics', () => {
  it('of nothing is nothing', () => {
    const found = speedStatistics([], []);
    expect(found).toMatchObject({ samples: 0 });
    expect(found.max).toBeNaN();
    expect(found.mean).toBeNaN();
  });
});
