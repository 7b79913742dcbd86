import type { Candidate } from './candidate.js';
import type { Catalogue } from './catalogue.js';

const IMPERIAL = 'the values fit km/h and mph, and other columns of the file are in degrees Fahrenheit or psi';

/** Columns of one logger are written alike: what one column leaves open, its kin settles. */
export interface HouseUnits {
  readonly catalogue: Catalogue;
  /** Some column named no unit and its values fit several. */
  readonly open: () => boolean;
  /** Learns from the columns that are settled. @returns whether anything was learned. */
  readonly learn: (settled: readonly Candidate[]) => boolean;
}

/**
 * The catalogue with a memory for units: where the values of a column without a unit fit several, the unit that all
 * settled columns of its kin share is taken, if it is one of them. Kin are channels of one quantity; for ratios (where a
 * trim as a fraction says nothing of a pedal) channels of one family.
 */
export function houseUnits(catalogue: Catalogue): HouseUnits {
  const known = new Map<string, Set<string>>();
  let open = false;
  const imperial = (): boolean =>
    known.get('temperature')?.has('degF') === true ||
    [...(known.get('pressure') ?? [])].some((unit) => /psi/i.test(unit));
  const kin = (id: string): string | undefined => {
    const facts = catalogue.facts(id);
    if (facts === undefined) return undefined;
    return facts.quantity === 'ratio' ? facts.base.replace(/(Short|Long|Total)$/, '') : facts.quantity;
  };
  return {
    catalogue: {
      ...catalogue,
      inferUnit: (id, values, gauge) => {
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
      },
    },
    open: () => open,
    learn: (settled) => {
      for (const { facts, sourceUnit, certainty } of settled) {
        const name = kin(facts.id);
        // A unit that was taken for want of another teaches nothing about speeds.
        const assumed = facts.quantity === 'speed' && certainty === 'inferred';
        if (name === undefined || sourceUnit === '' || assumed) continue;
        const unit = facts.quantity === 'temperature' ? temperatureUnit(sourceUnit) : sourceUnit;
        if (unit !== undefined) known.set(name, (known.get(name) ?? new Set()).add(unit));
      }
      return known.size > 0;
    },
  };
}

/** Unit id of a temperature however it is written; a stated unit is kept as written elsewhere. */
function temperatureUnit(text: string): string | undefined {
  return /f/i.test(text) ? 'degF' : /^k/i.test(text) ? 'K' : /c/i.test(text) ? 'degC' : undefined;
}
