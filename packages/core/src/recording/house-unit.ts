import type { Candidate } from './candidate.js';
import type { Catalogue, UnitInference } from './catalogue.js';

const IMPERIAL = 'the values fit km/h and mph, and other columns of the file are in degrees Fahrenheit or psi';

/** Columns of one logger are written alike: what one column leaves open, its kin settles. */
export interface HouseUnits {
  readonly catalogue: Catalogue;
  /** Some column named no unit and its values fit several, or columns of one family would part from each other. */
  readonly open: () => boolean;
  /** Learns from the columns that are settled. @returns whether anything was learned. */
  readonly learn: (settled: readonly Candidate[]) => boolean;
}

/** Columns of one family (cylinders, banks, wheels) that name no unit, and what each would be read as alone. */
interface Family {
  readonly ids: string[];
  readonly values: Float64Array[];
  readonly units: Set<string | undefined>;
}

/**
 * The catalogue with a memory for units: where the values of a column without a unit fit several, the unit that all
 * settled columns of its kin share is taken, if it is one of them. Kin are channels of one quantity; for ratios (where a
 * trim as a fraction says nothing of a pedal) channels of one family. Columns of one family are never read in different
 * units: where they would be, the unit that others of the family state is taken, else what all their values together say.
 */
export function houseUnits(catalogue: Catalogue): HouseUnits {
  const known = new Map<string, Set<string>>();
  const families = new Map<string, Family>();
  const stated = new Map<string, Set<string>>();
  const together = new Map<string, UnitInference>();
  let open = false;
  const imperial = (): boolean =>
    known.get('temperature')?.has('degF') === true ||
    [...(known.get('pressure') ?? [])].some((unit) => /psi/i.test(unit));
  const kin = (id: string): string | undefined => {
    const facts = catalogue.facts(id);
    if (facts === undefined) return undefined;
    return facts.quantity === 'ratio' ? familyOf(facts.base) : facts.quantity;
  };
  const family = (id: string): string | undefined => {
    const facts = catalogue.facts(id);
    return facts === undefined ? undefined : familyOf(facts.base);
  };
  /** What is known of the column alone, and of the file. */
  const alone = (id: string, values: Float64Array, gauge: boolean | undefined): UnitInference => {
    const inferred = catalogue.inferUnit(id, values, gauge);
    if (inferred.unit === 'km/h' && !known.has('speed')) {
      // km/h and mph look alike. In a log of degrees Fahrenheit or psi nothing speaks for km/h.
      open = true;
      if (imperial()) return { unit: undefined, candidates: ['km/h', 'mph'], reason: IMPERIAL };
    }
    if (inferred.unit !== undefined || inferred.candidates.length < 2) return inferred;
    open = true;
    const shared = known.get(kin(id) ?? '');
    const [only] = shared ?? [];
    if (shared?.size !== 1 || only === undefined || !inferred.candidates.includes(only)) return inferred;
    return {
      unit: only,
      candidates: [],
      reason: `${inferred.reason}, and the other columns of its kind are in ${only}`,
    };
  };
  const remember = (id: string, values: Float64Array, unit: string | undefined): void => {
    const name = family(id);
    // A column that stands still says nothing of its unit: it follows the others, and decides nothing.
    if (name === undefined || values.every((x) => x === values[0])) return;
    const own = families.get(name) ?? { ids: [], values: [], units: new Set() };
    families.set(name, own);
    own.ids.push(id);
    own.values.push(values);
    own.units.add(unit);
  };
  return {
    catalogue: {
      ...catalogue,
      inferUnit: (id, values, gauge) => {
        const decided = together.get(family(id) ?? '');
        if (decided !== undefined) return decided;
        const inferred = alone(id, values, gauge);
        remember(id, values, inferred.unit);
        return inferred;
      },
      familyUnit: (id, values, unit) => {
        remember(id, values, unit);
        return together.get(family(id) ?? '')?.unit;
      },
    },
    open: () => open || [...families.values()].some(({ units }) => units.size > 1),
    learn: (settled) => {
      for (const { facts, sourceUnit, certainty } of settled) {
        const name = kin(facts.id);
        const own = familyOf(facts.base);
        if (sourceUnit !== '' && certainty !== 'inferred')
          stated.set(own, (stated.get(own) ?? new Set()).add(sourceUnit));
        // A unit that was taken for want of another teaches nothing about speeds.
        const assumed = facts.quantity === 'speed' && certainty === 'inferred';
        if (name === undefined || sourceUnit === '' || assumed) continue;
        const unit = facts.quantity === 'temperature' ? temperatureUnit(sourceUnit) : sourceUnit;
        if (unit !== undefined) known.set(name, (known.get(name) ?? new Set()).add(unit));
      }
      for (const [name, own] of families) {
        if (own.ids.length < 2 || (own.units.size === 1 && !own.units.has(undefined))) continue;
        const written = [...(stated.get(name) ?? [])];
        const decided = [...own.units].filter((unit) => unit !== undefined);
        const [only] = written.length === 1 ? written : decided.length === 1 ? decided : [];
        if (only === undefined) together.set(name, joint(catalogue, own));
        else together.set(name, { unit: only, candidates: [], reason: `the columns of its family are in ${only}` });
      }
      return known.size > 0 || together.size > 0;
    },
  };
}

/** Long, short and total trims are one family; cylinders, banks, wheels and sensors are. */
function familyOf(base: string): string {
  return base.replace(/(Short|Long|Total)$/, '');
}

/** The unit in which the values of all columns of a family look normal at once. */
function joint(catalogue: Catalogue, { ids, values }: Family): UnitInference {
  const all = new Float64Array(values.reduce((sum, each) => sum + each.length, 0));
  let at = 0;
  for (const each of values) {
    all.set(each, at);
    at += each.length;
  }
  // A trim that swings tells more than one that was learned.
  const id = ids.find((each) => /Short/.test(each)) ?? ids[0]!;
  const inferred = catalogue.inferUnit(id, all, undefined);
  return { ...inferred, reason: `${inferred.reason} (${ids.length} columns of a family together)` };
}

/** Unit id of a temperature however it is written; a stated unit is kept as written elsewhere. */
function temperatureUnit(text: string): string | undefined {
  return /f/i.test(text) ? 'degF' : /^k/i.test(text) ? 'K' : /c/i.test(text) ? 'degC' : undefined;
}
