import { type Verification, verify } from '@telltale/core';
import { Random } from '../simulate/random.js';

/** What is true of one simulated session, in the units of its columns. */
interface Truth {
  /** kPa over the boost target, mean of the pulls. */
  readonly boost: number;
  /** Lambda over its target. */
  readonly mixture: number;
  /** True over counted air, by g/s: the trims make up for it. */
  readonly air: (flow: number) => number;
}

const HEAD =
  'Time [s],Engine speed [rpm],Vehicle speed [km/h],Gear,Pedal position [%],Boost pressure [kPa],Boost pressure target [kPa],Barometric pressure [kPa],Lambda bank 1,Lambda target,MAF [g/s],Manifold pressure [kPa],STFT bank 1 [%],LTFT bank 1 [%],Fuel system status,Coolant temperature [C],Oil temperature [C],Intake air temperature [C]';
/** Rows a second. */
const HZ = 10;
/** s: a pull, and the cruise that follows it in pieces of steady flow. */
const PULL = 6;
const STEADY = 12;

/**
 * A log as CSV text: pulls in third gear with a stretch of cruise after each. Pulls differ among themselves, samples within one
 * are first-order processes (neighbours correlate by 0.97).
 */
function logOf(random: Random, pulls: number, truth: Truth, steady: number): string {
  const lines = [HEAD];
  let row = 0;
  let noise = [0, 0, 0];
  const step = (): void => {
    noise = noise.map((x) => 0.97 * x + Math.sqrt(1 - 0.97 ** 2) * random.normal());
  };
  let lambdaTarget = 1;
  const wanted: number[] = [];
  const line = (
    rpm: number,
    pedal: number,
    boost: number,
    boostTarget: number,
    mixture: number,
    flow: number,
    closed: boolean,
  ): void => {
    step();
    wanted.push(lambdaTarget);
    // The sensor follows 0.3 s late.
    const lambda = wanted[Math.max(0, wanted.length - 4)]! + mixture + 0.006 * noise[0]!;
    const factor = truth.air(flow);
    const long = Math.round((factor - 1) * 60);
    const short = closed ? 100 * (factor / (1 + long / 100) - 1) + 0.5 * noise[1]! : 0;
    lines.push(
      [
        (row / HZ).toFixed(2),
        (rpm + 4 * noise[2]!).toFixed(1),
        (rpm / 45).toFixed(2),
        3,
        pedal.toFixed(1),
        (boost + (closed ? 0 : 2 * noise[1]!)).toFixed(2),
        boostTarget.toFixed(1),
        '99.0',
        lambda.toFixed(4),
        lambdaTarget.toFixed(3),
        (flow * (1 + 0.002 * noise[2]!)).toFixed(2),
        (closed ? 30 + flow / 2 : boost).toFixed(2),
        short.toFixed(2),
        long.toFixed(2),
        closed ? 2 : 4,
        (90 + Math.sin(row / 300)).toFixed(1),
        (96 + Math.sin(row / 500)).toFixed(1),
        (24 + Math.sin(row / 400)).toFixed(1),
      ].join(','),
    );
    row++;
  };
  for (let k = 0; k < 50; k++) line(2200, 0, 95, 95, 0, 8, true);
  for (let p = 0; p < pulls; p++) {
    const [boost, mixture] = [truth.boost + 2 * random.normal(), truth.mixture + 0.004 * random.normal()];
    lambdaTarget = 0.86;
    for (let k = 0; k < PULL * HZ; k++) {
      const t = k / HZ;
      // Boost is there within three tenths.
      line(2400 + 700 * t, 100, Math.min(200 + boost, 100 + 340 * t), 200, mixture, 60 + 30 * t, false);
    }
    lambdaTarget = 1;
    for (let s = 0; s < steady; s++) {
      const flow = 5 * Math.exp(random.next() * Math.log(12));
      for (let k = 0; k < STEADY * HZ; k++)
        line(1800 + 15 * flow, 15 + flow / 4, 97, 97, 0.001 * random.normal(), flow, true);
    }
  }
  return `${lines.join('\n')}\n`;
}

const sheetOf = (after: string, before?: string): Promise<Verification> => {
  const input = (name: string, text: string) => ({ name, source: new Blob([text]) });
  return verify([input('after.csv', after)], before === undefined ? [] : [input('before.csv', before)], {});
};

const SOUND = (): number => 1;

/** Scores of whole logs that go through the command as text. */
export interface LogScore {
  readonly sets: number;
  /** By endpoint: sets whose 95 % interval holds the true difference. */
  readonly covered: ReadonlyMap<string, number>;
  /** The same map twice: sets in which anything was called changed, tested endpoint or cell. */
  readonly falseEndpoints: number;
  readonly falseTables: number;
  readonly tables: number;
}

/** @param sets of each kind: a changed map, and the same map twice, 6 to 9 pulls a side */
export async function scoreLogs(sets: number, seed: number): Promise<LogScore> {
  const covered = new Map([
    ['boost.error', 0],
    ['mixture.error', 0],
  ]);
  let [falseEndpoints, falseTables, tables] = [0, 0, 0];
  for (let k = 0; k < sets; k++) {
    const random = new Random(seed + k, 11);
    const [boost, mixture] = [random.range(-8, 8), random.range(-0.02, 0.02)];
    const before = logOf(random, random.int(6, 9), { boost: 0, mixture: 0, air: SOUND }, 1);
    const after = logOf(random, random.int(6, 9), { boost, mixture, air: SOUND }, 1);
    const changed = await sheetOf(after, before);
    for (const [id, real] of [
      ['boost.error', boost],
      ['mixture.error', mixture],
    ] as const) {
      const found = changed.change?.endpoints.find((each) => each.id === id)?.difference;
      if (found !== undefined && found.low <= real && real <= found.high) covered.set(id, covered.get(id)! + 1);
    }
    const again = logOf(random, random.int(6, 9), { boost: 0, mixture: 0, air: SOUND }, 1);
    const same = await sheetOf(again, before);
    if (same.change?.endpoints.some(({ outcome }) => outcome === 'changed')) falseEndpoints++;
    for (const { cells } of same.cellChanges ?? []) {
      tables++;
      if (cells.some((cell) => cell.changed)) falseTables++;
    }
  }
  return { sets, covered, falseEndpoints, falseTables, tables };
}

export interface AirScore {
  readonly sets: number;
  /** Nodes with enough support; of these within 1.5 points of the truth, and inside their interval. */
  readonly nodes: number;
  readonly near: number;
  readonly covered: number;
}

/** @param sets logs with an error of the air meter of 3 to 15 %, to either side, bent over the flow */
export async function scoreAir(sets: number, seed: number): Promise<AirScore> {
  let [nodes, near, covered] = [0, 0, 0];
  for (let k = 0; k < sets; k++) {
    const random = new Random(seed + k, 13);
    const size = (random.next() < 0.5 ? -1 : 1) * random.range(0.03, 0.15);
    const bend = random.range(-0.5, 0.5);
    const law = (flow: number): number => 1 + size * (1 + bend * (Math.log(flow / 17) / Math.log(3.5)));
    const { correction } = await sheetOf(logOf(random, 3, { boost: 0, mixture: 0, air: law }, 30));
    for (const { at, enough, factor, low, high } of correction?.nodes ?? []) {
      // Above, only pulls were there: open loop, in which the trims say nothing.
      if (!enough || at > 60) continue;
      nodes++;
      if (Math.abs(factor! - law(at)) <= 0.015) near++;
      if (low! <= law(at) && law(at) <= high!) covered++;
    }
  }
  return { sets, nodes, near, covered };
}
