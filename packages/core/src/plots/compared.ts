import { ACCELERATION } from '../derived/acceleration.js';
import { BOOST_PAIR } from '../derived/boost-pair.js';
import { CLUTCH_SLIP } from '../derived/clutch-slip.js';
import { type Drive, isRefusal } from '../derived/recipe.js';
import { samplesOf } from '../derived/samples.js';
import { TOTAL_TRIM } from '../derived/total-trim.js';
import type { RuleEvent } from '../rules/rule.js';
import { derivedSource, type Source } from './source.js';

/** What a rule compares when no single channel is it: computed row by row as the rule's own recipe does. */
export function comparedSources(rule: string, drive: Drive, event: RuleEvent): Source[] {
  return COMPARED[rule]?.(drive, event) ?? [];
}

const COMPARED: Readonly<Record<string, (drive: Drive, event: RuleEvent) => Source[]>> = {
  'fuel.trim': totalTrims,
  'fuel.lambda-load': (drive) => differences(drive, 'lambda', 'lambdaTarget', '1', 'lambda over its target'),
  'fuel.rail-pressure': (drive) =>
    shares(drive, 'fuelRailPressure', 'fuelRailPressureTarget', 'rail pressure off its target'),
  'transmission.clutch-slip': slip,
  'air.boost-control': boostError,
  'usage.launches': acceleration,
  'usage.severity': acceleration,
};

function totalTrims(drive: Drive, event: RuleEvent): Source[] {
  const trims = drive.derive(TOTAL_TRIM);
  if (isRefusal(trims)) return [];
  return trims.banks
    .filter(({ name }) => typeof event.bank !== 'string' || event.bank === name)
    .map(({ name, total }) =>
      derivedSource(drive, `totalTrim.${name}`, `total trim, ${name.replace(/(\d)/, ' $1')}`, '%', total),
    );
}

function slip(drive: Drive): Source[] {
  const found = drive.derive(CLUTCH_SLIP);
  if (isRefusal(found)) return [];
  const values = new Float64Array(drive.time.length).fill(Number.NaN);
  for (let k = 0; k < found.row.length; k++)
    if (found.input[k]! > 0) values[found.row[k]!] = (100 * found.slip[k]!) / found.input[k]!;
  return [derivedSource(drive, 'clutchSlip', 'slip of the clutch', '%', values)];
}

function boostError(drive: Drive): Source[] {
  const pair = drive.derive(BOOST_PAIR);
  if (isRefusal(pair)) return [];
  const values = new Float64Array(pair.actual.length);
  for (let i = 0; i < values.length; i++) values[i] = pair.actual[i]! - pair.target[i]!;
  return [{ ...derivedSource(drive, 'boostError', 'boost over its target', 'kPa', values), apart: true }];
}

function acceleration(drive: Drive): Source[] {
  const found = drive.derive(ACCELERATION);
  return isRefusal(found) ? [] : [derivedSource(drive, 'acceleration', 'acceleration', 'm/s2', found.values)];
}

/** Each member of a family less its target; a target without a position is that of all. */
function differences(drive: Drive, family: string, target: string, unit: string, name: string): Source[] {
  return paired(drive, family, target, name, unit, 'Over', (actual, wanted) => actual - wanted);
}

function shares(drive: Drive, family: string, target: string, name: string): Source[] {
  return paired(drive, family, target, name, '%', 'Share', (actual, wanted) => 100 * (actual / wanted - 1));
}

function paired(
  drive: Drive,
  family: string,
  target: string,
  name: string,
  unit: string,
  suffix: string,
  compare: (actual: number, wanted: number) => number,
): Source[] {
  const samples = samplesOf(drive);
  return drive.family(family).flatMap(({ id }) => {
    const place = id.slice(family.length);
    const actual = samples.held(id);
    const wanted = samples.held(`${target}${place}`) ?? samples.held(target);
    if (actual === undefined || wanted === undefined) return [];
    const values = new Float64Array(actual.length);
    for (let i = 0; i < values.length; i++) values[i] = compare(actual[i]!, wanted[i]!);
    const where = place === '' ? '' : `, ${place.slice(1).replace(/(\d)/, ' $1')}`;
    return [{ ...derivedSource(drive, `${family}${suffix}${place}`, `${name}${where}`, unit, values), apart: true }];
  });
}
