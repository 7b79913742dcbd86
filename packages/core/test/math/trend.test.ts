import { describe, expect, it } from 'vitest';
import { cusum, ewma } from '../../src/math/control-charts.js';
import { mannKendall, prewhitened } from '../../src/math/mann-kendall.js';
import { theilSen } from '../../src/math/theil-sen.js';
import { hasValidation, sharedText, WHERE } from './published.js';

interface Example {
  readonly id: string;
  readonly data: number[];
  readonly x: number[];
  readonly y: number[];
  readonly expected: Record<string, number>;
}

function table(name: string): Record<string, number>[] {
  const [head, ...rows] = sharedText(`validation/${name}`).trim().split(/\r?\n/);
  const names = head!.split(',');
  return rows.map((row) => Object.fromEntries(row.split(',').map((cell, k) => [names[k]!, Number(cell)])));
}

/** Annual flow of the Nile at Aswan, 1871-1970, 1e8 m3: G. W. Cobb, Biometrika 65 (1978) 243; R datasets::Nile. */
const NILE = [
  1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140, 1100,
  1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831, 726, 456,
  824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845, 944, 984, 897,
  822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918, 986, 797, 923, 975,
  815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
];

describe.skipIf(!hasValidation)(`published examples of trends and charts${WHERE}`, () => {
  const all = hasValidation ? (JSON.parse(sharedText('validation/stats-examples.json')) as Example[]) : [];
  const example = (id: string) => all.find((each) => each.id === id)!;

  it('Mann-Kendall with a tie and Sen’s slope (College of the Holy Cross, MannKendallByHand; scipy theilslopes)', () => {
    const { data, expected } = example('mann-kendall');
    const found = mannKendall(data);
    expect(found.s).toBe(expected.S);
    expect(found.variance).toBeCloseTo(expected.varS!, 9);
    expect((found.s - 1) / Math.sqrt(found.variance)).toBeCloseTo(expected.Z!, 9);
    expect(found.p).toBeCloseTo(expected.p_two_sided!, 9);
    expect(found.rising).toBeCloseTo(expected.p_one_sided_published!, 4);
    expect(found.tau).toBeCloseTo(expected.kendall_tau_b!, 9);
    const years = data.map((_, i) => i);
    expect(theilSen(years, data).slope).toBeCloseTo(expected.sen_slope!, 9);
  });

  it('Kendall’s S of ten pairs (Helsel & Hirsch 2002, ch. 8; values of the handbook from memory)', () => {
    const { y, expected } = example('kendall-usgs');
    const found = mannKendall(y);
    expect(found.s).toBe(expected.S);
    expect(found.variance).toBeCloseTo(expected.varS!, 9);
    expect(found.tau).toBeCloseTo(expected.tau!, 9);
    expect(found.exact).toBe(true);
  });

  it('Mann-Kendall and Sen of a hundred years of the Nile, many of them tied (R datasets::Nile, R 4.2.2; interval scipy 1.17.1)', () => {
    const { expected } = example('mann-kendall-nile');
    const found = mannKendall(NILE);
    expect(found.s).toBe(expected.S);
    expect(found.variance).toBeCloseTo(expected.varS!, 6);
    expect(found.p).toBeCloseTo(expected.p_two_sided!, 12);
    expect(found.tau).toBeCloseTo(expected.tau_b!, 9);
    expect(found.exact).toBe(false);
    const sen = theilSen(
      NILE.map((_, i) => i),
      NILE,
    );
    expect(sen.slope).toBeCloseTo(expected.sen_slope!, 9);
    // The library takes ties off the variance of the interval: with 19 tied pairs in 4950 a rank or two of difference.
    expect(Math.abs(sen.low - -3.627906976744186)).toBeLessThan(0.01);
    expect(Math.abs(sen.high - -1.4285714285714286)).toBeLessThan(0.01);
  });

  it('Theil-Sen passes by an outlier (Helsel & Hirsch 2002, ch. 10)', () => {
    const { x, y, expected } = example('theil-sen-outlier');
    const found = theilSen(x, y);
    expect([found.slope, found.intercept]).toEqual([expected.slope, expected.intercept]);
  });

  it('EWMA of the NIST/SEMATECH e-Handbook 6.3.2.4: values and limits', () => {
    const rows = table('ewma.csv');
    const points = ewma(
      rows.map(({ x }) => x!),
      { target: 50, sigma: 2.0539, weight: 0.3 },
    );
    for (const [i, row] of rows.entries()) {
      expect(points[i]!.value).toBeCloseTo(row.ewma_exact!, 9);
      expect(Math.abs(points[i]!.value - row.ewma_published_2dp!)).toBeLessThan(0.006);
      expect(Math.abs(points[i]!.high - row.ucl_time_varying_L3!)).toBeLessThan(1e-5);
      expect(Math.abs(points[i]!.low - row.lcl_time_varying_L3!)).toBeLessThan(1e-5);
    }
    const { expected } = example('ewma-limits');
    const late = ewma(new Float64Array(200).fill(50), { target: 50, sigma: 2.0539 });
    expect(Math.abs(late[199]!.high - expected.ucl_published!)).toBeLessThan(1e-4);
    expect(Math.abs(late[199]!.low - expected.lcl_published!)).toBeLessThan(1e-4);
  });

  it('CUSUM of the NIST/SEMATECH e-Handbook 6.3.2.3: both sums, first signal at group 14', () => {
    const rows = table('cusum-nist.csv');
    const points = cusum(
      rows.map(({ x }) => x!),
      325,
      0.3175,
    );
    for (const [i, row] of rows.entries()) {
      expect(Math.abs(points[i]!.above - row.s_hi_exact!)).toBeLessThan(1e-4);
      // The printed table rounds half-way cases either way.
      expect(Math.abs(points[i]!.below - row.s_lo_published!)).toBeLessThan(0.0051);
    }
    expect(points.findIndex(({ above }) => above > 4.1959) + 1).toBe(14);
  });

  it('CUSUM of Montgomery, Statistical Quality Control, table 9.2: signal at 29, seven points above 0', () => {
    const rows = table('cusum-montgomery.csv');
    const points = cusum(
      rows.map(({ x }) => x!),
      10,
      0.5,
    );
    for (const [i, row] of rows.entries()) {
      expect(points[i]!.above).toBeCloseTo(row.c_plus!, 9);
      expect(points[i]!.pointsAbove).toBe(row.n_plus);
      expect(points[i]!.pointsBelow).toBe(row.n_minus);
    }
    expect(points.findIndex(({ above }) => above > 5) + 1).toBe(29);
  });
});

describe('trends', () => {
  it('exact Mann-Kendall: all orders of four values (24), six values in order by chance once in 720', () => {
    // n = 4: S = 6 once, 4 three times, 2 five, 0 six of 24 (Kendall 1975, table 1, from memory; counted by hand).
    expect(mannKendall([1, 2, 3, 4]).rising).toBeCloseTo(1 / 24, 12);
    expect(mannKendall([1, 2, 4, 3]).rising).toBeCloseTo(4 / 24, 12);
    expect(mannKendall([2, 1, 4, 3]).rising).toBeCloseTo(9 / 24, 12);
    expect(mannKendall([1, 2, 3, 4, 5, 6]).p).toBeCloseTo(2 / 720, 12);
    expect(mannKendall([3, 2, 1]).falling).toBeCloseTo(1 / 6, 12);
  });

  it('too few, or all alike, tell nothing', () => {
    expect(mannKendall([1, 2]).p).toBeNaN();
    expect(mannKendall([2, 2, 2, 2]).p).toBeNaN();
    expect(theilSen([1, 1], [2, 3]).slope).toBeNaN();
    expect(theilSen([1, 2], [2, 3])).toMatchObject({ slope: 1, low: Number.NEGATIVE_INFINITY });
  });

  it('Sen’s interval holds the true slope in about 95 of 100 series', () => {
    const random = lcg(7);
    let held = 0;
    for (let k = 0; k < 1000; k++) {
      const x = Array.from({ length: 24 }, (_, i) => i);
      const y = x.map((i) => 0.2 * i + gauss(random));
      const { low, high } = theilSen(x, y);
      if (low <= 0.2 && high >= 0.2) held++;
    }
    expect(held).toBeGreaterThan(930);
    expect(held).toBeLessThan(970);
  });

  it('a series that remembers itself cries trend unless it is prewhitened', () => {
    const random = lcg(11);
    let raw = 0;
    let white = 0;
    const runs = 1000;
    for (let k = 0; k < runs; k++) {
      const y: number[] = [];
      let last = 0;
      for (let i = 0; i < 36; i++) {
        last = 0.5 * last + gauss(random);
        y.push(last);
      }
      if (mannKendall(y).p < 0.05) raw++;
      if (mannKendall(prewhitened(y)).p < 0.05) white++;
    }
    expect(raw / runs).toBeGreaterThan(0.15);
    expect(white).toBeLessThan(0.6 * raw);
  });

  it('prewhitening keeps a trend', () => {
    const random = lcg(13);
    let found = 0;
    for (let k = 0; k < 200; k++) {
      let last = 0;
      const y = Array.from({ length: 36 }, (_, i) => {
        last = 0.3 * last + gauss(random);
        return last + 0.15 * i;
      });
      if (mannKendall(prewhitened(y)).rising < 0.05) found++;
    }
    expect(found).toBeGreaterThan(180);
  });

  it('EWMA limits widen where neighbours correlate', () => {
    const settings = { target: 0, sigma: 1, weight: 0.3 };
    const plain = ewma([0, 0, 0], settings);
    const wide = ewma([0, 0, 0], { ...settings, rho: 0.3 });
    for (const i of [0, 1, 2]) expect(wide[i]!.high).toBeGreaterThan(plain[i]!.high);
    expect(() => ewma([1], { ...settings, weight: 0 })).toThrow(RangeError);
  });
});

/** D. H. Lehmer's generator, MINSTD (Park & Miller 1988). */
function lcg(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state * 48271) % 2147483647;
    return state / 2147483647;
  };
}

/** Box & Muller (1958). */
function gauss(random: () => number): number {
  return Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());
}
