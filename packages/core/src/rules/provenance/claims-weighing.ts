import type { OtherResult } from '../rule.js';
import { counted, figure } from '../wording.js';

export type ClaimState = 'supported' | 'contradicted' | 'not shown' | 'not judged';

export interface WeighedClaim {
  readonly claim: string;
  readonly said: string;
  readonly state: ClaimState;
  /** The evidence with its numbers, one sentence without its full stop. */
  readonly because: string;
}

/** What the recordings and read-outs of one car say about claims. NaN = not known. */
export interface Evidence {
  /** kPa: highest boost that was held, its standard uncertainty, and full-load pulls behind it. */
  readonly boost: number;
  readonly boostU: number;
  readonly pulls: number;
  /** km */
  readonly odometer: number;
  readonly sinceClear: number;
  readonly launches: number;
  readonly overRevs: number;
  /** Codes about the catalysts; undefined when no code list was read. */
  readonly catalystCodes?: readonly string[];
  readonly catalystTests: { readonly passed: number; readonly failed: readonly string[] };
}

export type Results = ReadonlyMap<string, OtherResult>;
type Weigher = (said: unknown, evidence: Evidence, results: Results) => Omit<WeighedClaim, 'claim' | 'said'>;

/** Share by which a distance may be rounded in an advertisement. */
const ROUNDED = 0.02;
/** Boost: share of the claim that has to be reached to support it, and below which pulls contradict it. */
const REACHED = 0.93;
const MISSED = 0.8;
const PULLS = 3;
/** Counter that is full. */
const FULL = 65_535;

const state = (of: ClaimState, because: string): Omit<WeighedClaim, 'claim' | 'said'> => ({ state: of, because });

/** First clause of another rule's summary: it stands there in full. */
function brief(summary: string): string {
  return summary.split(/; |\. /, 1)[0]!.replace(/\.$/, '');
}

/** The result of the rule that answers the question itself. */
function joined(rule: string, what: string): Weigher {
  return (_, __, results) => {
    const result = results.get(rule);
    if (result === undefined) return state('not shown', `${what} was not judged in this run`);
    const because = brief(result.summary);
    if (result.outcome === 'finding') return state('contradicted', because);
    return state(result.outcome === 'clear' ? 'supported' : 'not shown', because);
  };
}

/** One a claim of the profile; order of the report. */
export const WEIGHERS: Readonly<Record<string, Weigher>> = {
  power: joined('engine.power', 'power'),
  boost(said, { boost, boostU, pulls }) {
    const claim = Number(said);
    if (Number.isNaN(boost)) return state('not shown', 'no boost pressure was recorded under load');
    const reach = `${figure(boost, 0)} kPa held in ${counted(pulls, 'full-load pull')}`;
    if (boost + 1.645 * boostU >= REACHED * claim) return state('supported', reach);
    if (pulls >= PULLS && boost + 1.645 * boostU < MISSED * claim)
      return state('contradicted', `${reach}, ${figure((100 * boost) / claim, 0)} % of the claim`);
    return state('not shown', `${reach}; ${PULLS} pulls would settle it`);
  },
  injectors: joined('fuel.injector-size', 'the size of the injectors'),
  catalysts(_, { catalystCodes, catalystTests }) {
    if ((catalystCodes?.length ?? 0) > 0)
      return state('contradicted', `the control unit keeps ${catalystCodes!.join(', ')} about the catalyst`);
    if (catalystTests.failed.length > 0)
      return state('contradicted', `its own test of the catalyst failed: ${catalystTests.failed.join('; ')}`);
    if (catalystTests.passed > 0)
      return state('supported', `${counted(catalystTests.passed, 'test')} of the catalyst passed in the control unit`);
    return state('not shown', 'no result of the catalyst test was read out; look from below as well');
  },
  launches(said, { launches }, results) {
    const claim = said === 'never' ? 0 : Number(said);
    const seen = results.get('usage.launches');
    if (!Number.isNaN(launches))
      return launches > claim
        ? state('contradicted', `the control unit counts ${counted(launches, 'launch').replace('launchs', 'launches')}`)
        : state('supported', `the control unit counts ${launches}`);
    if (seen?.outcome === 'finding') return state('contradicted', brief(seen.summary));
    return state('not shown', 'the launch counter was not read out');
  },
  distance(said, { odometer }, results) {
    const claim = Number(said);
    const units = results.get('provenance.distance');
    if (Number.isNaN(odometer)) return state('not shown', 'no odometer was read out');
    const off = odometer - claim;
    if (units?.outcome === 'finding' && off <= Math.max(ROUNDED * claim, 500))
      return state('contradicted', brief(units.summary));
    return off > Math.max(ROUNDED * claim, 500)
      ? state('contradicted', `${figure(odometer, 0)} km read out of a control unit, ${figure(off, 0)} km more`)
      : state(
          units?.outcome === 'clear' ? 'supported' : 'not shown',
          `${figure(odometer, 0)} km read out${units?.outcome === 'clear' ? '' : ', from one place only'}`,
        );
  },
  tracked(said, { overRevs }, results) {
    if (said !== 'never') return state('not judged', 'only the claim that it never was can be held against evidence');
    const signs = ['usage.severity', 'usage.over-rev'].flatMap((id) => {
      const result = results.get(id);
      return result?.outcome === 'finding' ? [brief(result.summary)] : [];
    });
    if (overRevs > 0) signs.unshift(`the control unit counts ${counted(overRevs, 'over-rev')}`);
    return signs.length > 0
      ? state('contradicted', signs.join('; '))
      : state('not shown', 'no sign of it in what was recorded; that it never was cannot be shown by a recording');
  },
  codesCleared(said, { sinceClear, odometer }, results) {
    if (said !== 'never')
      return state('not judged', 'only the claim that they never were can be held against evidence');
    const recent = results.get('provenance.recent-clear');
    if (recent?.outcome === 'finding')
      return state(
        'contradicted',
        Number.isNaN(sinceClear) ? brief(recent.summary) : `cleared ${figure(sinceClear, 0)} km ago`,
      );
    if (Number.isNaN(sinceClear)) return state('not shown', 'distance since codes were cleared was not read out');
    if (sinceClear >= FULL) return state('supported', `not within the last ${FULL} km, where the counter ends`);
    if (Number.isNaN(odometer))
      return state('not shown', `cleared ${figure(sinceClear, 0)} km ago or when it was built`);
    return sinceClear < odometer - Math.max(500, ROUNDED * odometer)
      ? state('contradicted', `cleared ${figure(sinceClear, 0)} km ago, at ${figure(odometer - sinceClear, 0)} km`)
      : state('supported', `${figure(sinceClear, 0)} km since they were cleared, as far as the car has run`);
  },
  software: joined('provenance.calibration', 'the software'),
  coldStart: joined('provenance.cold-start', 'the cold start'),
};
