import { LEARNED_RATIOS } from '../derived/ratio-clusters.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { median } from '../math/quantile.js';
import type { Side } from './pull.js';
import type { VerifyProblem } from './verification.js';

/** What a recording tells of the car that made it. */
export interface Identity {
  readonly side: Side;
  readonly file: string;
  /** Overall ratios, rpm per km/h, first gear first; empty when not told. */
  readonly ratios: readonly number[];
  /** Number of cylinders that have channels of their own, when they are numbered without a gap; NaN else. */
  readonly cylinders: number;
  /** % by volume by the sensor; NaN without one. */
  readonly ethanol: number;
}

/** A ratio of one car is found again within this share by another recording; tyres wear by less. Common practice, no source. */
const SAME = 0.03;
/** Percentage points of ethanol from which ignition, mixture and power differ by the fuel alone. Common practice, no source. */
const SAME_FUEL = 5;
const CYLINDER = ['knockRetard', 'misfireCount', 'ignitionAdvance', 'injectorCorrection'] as const;

export function identityOf(drive: Drive, side: Side, file: string): Identity {
  const learned = drive.derive(LEARNED_RATIOS);
  const ethanol = drive.channel('ethanolContent');
  return {
    side,
    file,
    ratios: isRefusal(learned) ? [] : learned.ratios.map(({ value }) => value),
    cylinders: cylindersOf(drive),
    ethanol: ethanol === undefined ? Number.NaN : median(ethanol.values),
  };
}

/** Cylinders numbered 1..n by one family of channels. */
function cylindersOf(drive: Drive): number {
  let most = Number.NaN;
  for (const base of CYLINDER) {
    const numbers = drive
      .family(base)
      .flatMap(({ id }) => {
        const found = /[.]cylinder(\d+)$/.exec(id);
        return found === null ? [] : [Number(found[1])];
      })
      .sort((a, b) => a - b);
    if (numbers.length >= 3 && numbers.every((x, i) => x === i + 1) && !(most >= numbers.length)) most = numbers.length;
  }
  return most;
}

/** What speaks against before and after being one car with one fuel. */
export function unlikeCars(identities: readonly Identity[], cylinders: number | undefined): VerifyProblem[] {
  const problems: VerifyProblem[] = [];
  const before = identities.filter(({ side }) => side === 'before');
  const after = identities.filter(({ side }) => side === 'after');
  for (const a of before) {
    for (const b of after) {
      const ratios = unlikeRatios(a.ratios, b.ratios);
      if (ratios !== undefined)
        problems.push({
          code: 'different-car',
          severity: 'refused',
          message: `${a.file} and ${b.file} are not one car: ${ratios}. Before and after are not compared.`,
        });
      if (a.cylinders !== b.cylinders && a.cylinders >= 3 && b.cylinders >= 3)
        problems.push({
          code: 'different-car',
          severity: 'refused',
          message: `${a.file} numbers ${a.cylinders} cylinders, ${b.file} ${b.cylinders}: not one engine. Before and after are not compared.`,
        });
    }
  }
  for (const { cylinders: seen, file } of identities)
    if (cylinders !== undefined && seen > cylinders)
      problems.push({
        code: 'profile-disagrees',
        severity: 'warning',
        message: `${file} numbers ${seen} cylinders, the profile says ${cylinders}.`,
      });
  const [x, y] = [before, after].map((side) => median(side.map(({ ethanol }) => ethanol)));
  if (Math.abs(x! - y!) > SAME_FUEL)
    problems.push({
      code: 'other-fuel',
      severity: 'warning',
      message: `The fuel held ${Math.round(x!)} % ethanol before and ${Math.round(y!)} % after: knock, mixture, injector time and power change with the fuel. Drive both on the same fuel.`,
    });
  return problems;
}

/** Overall ratios in words where most are not found again; undefined when they agree or too little is known. */
function unlikeRatios(a: readonly number[], b: readonly number[]): string | undefined {
  if (a.length < 2 || b.length < 2) return undefined;
  const found = a.filter((x) => b.some((y) => Math.abs(Math.log(x / y)) <= SAME));
  // A recording may miss gears; of those it has, most are found again in the other one.
  if (2 * found.length >= Math.min(a.length, b.length)) return undefined;
  const shown = (all: readonly number[]): string => all.map((x) => Math.round(10 * x) / 10).join(', ');
  return `overall ratios ${shown(a)} against ${shown(b)} rpm per km/h`;
}
