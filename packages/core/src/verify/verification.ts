import type { InputReport } from '../engine/assessment.js';
import type { Limit, Measure } from '../rules/rule.js';
import type { Side } from './pull.js';
import type { Order } from './sessions.js';

/** `held` = in ten pulls and more; `held-so-far` = in fewer; field order here is field order in the JSON. */
export type LimitOutcome = 'broken' | 'held' | 'held-so-far' | 'not-shown' | 'not-applicable';

export interface LimitResult {
  /** Measure that is limited. */
  readonly id: string;
  readonly title: string;
  readonly outcome: LimitOutcome;
  readonly limit: Limit;
  /** Rule that the limit is taken from. */
  readonly rule?: string;
  /** Pulls that showed the measure, and those beyond the limit. */
  readonly pulls: number;
  readonly broken: number;
  /**
   * Held in all pulls: highest rate of breaking pulls that lets them all hold with 5 %. Broken: 95 % interval of the
   * rate. 0..1
   */
  readonly rate?: { readonly low: number; readonly high: number };
  readonly worst?: WorstCase;
  /** The same limit on the pulls before, and the change of the breaking rate. */
  readonly before?: {
    readonly pulls: number;
    readonly broken: number;
    readonly change: { readonly low: number; readonly high: number };
  };
  /** Why it is not shown, or what to know about the value. */
  readonly notes: readonly string[];
  readonly missing?: { readonly channels: readonly string[]; readonly conditions: readonly string[] };
}

export interface WorstCase {
  readonly measure: Measure;
  /** Pull of the side, input, seconds of recording time and rpm; null where the value is of the whole pull. */
  readonly pull: number;
  readonly input: number;
  readonly gear: number | null;
  readonly at: number | null;
  readonly engineSpeed: number | null;
  /** Cylinder or bank. */
  readonly member?: string;
}

export interface PullReport {
  readonly side: Side;
  readonly number: number;
  readonly input: number;
  readonly from: number;
  readonly to: number;
  readonly gear: number | null;
  /** rpm per km/h. */
  readonly ratio: number | null;
  readonly engineSpeed: { readonly from: number; readonly to: number };
  readonly conditions: Readonly<Record<string, Measure>>;
  /** Compared with pulls of the other side. */
  readonly matched: boolean;
  /** Why it is not compared, what stands out. */
  readonly notes: readonly string[];
  readonly measures: Readonly<Record<string, Measure>>;
}

/** What repeats of one measure did, over the range that all pulls of a group share. */
export interface GroupSummary {
  readonly pulls: number;
  readonly mean: number;
  /** Standard deviation between pulls; null from one pull. */
  readonly deviation: number | null;
}

export type ChangeOutcome = 'changed' | 'not-distinguishable' | 'too-few' | 'not-tested';

export interface EndpointChange {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  /** Primary endpoints are tested together, so that the risk of one wrong "changed" stays at 5 %. */
  readonly primary: boolean;
  readonly outcome: ChangeOutcome;
  readonly before: GroupSummary;
  readonly after: GroupSummary;
  /** After less before, with its 95 % interval (Welch, one number a pull). */
  readonly difference?: { readonly value: number; readonly low: number; readonly high: number };
  /** Two-sided p, and adjusted after Holm over the primary endpoints. */
  readonly p?: number;
  readonly adjustedP?: number;
  /**
   * Smallest true change that as many pulls as these see at least four times in five; for a primary endpoint at the level
   * of Holm's first step, the strictest.
   */
  readonly detectable?: number;
  /** Difference at equal charge temperature at the start, where there are pulls enough to tell. */
  readonly atEqualTemperature?: { readonly value: number; readonly low: number; readonly high: number };
  /** Difference with the session as the unit (Welch), from two sessions a side. */
  readonly bySession?: { readonly value: number; readonly low: number; readonly high: number };
  /** Mean highest value of as many pulls as the smaller side has. */
  readonly maxima?: { readonly pulls: number; readonly before: number; readonly after: number };
}

export interface Change {
  readonly gear: number | null;
  readonly engineSpeed: { readonly from: number; readonly to: number };
  readonly pulls: { readonly before: number; readonly after: number };
  /** Sessions behind them: dated recordings of one map without a rest of two hours are one, undated ones each their own. */
  readonly sessions: { readonly before: number; readonly after: number };
  /** Whether the maps alternated in time, by the dates of the recordings. */
  readonly order: Order;
  /** `map` only when sessions alternated and agree. */
  readonly attribution: 'map-or-session' | 'map';
  readonly attributionReason: string;
  readonly conditions: readonly {
    readonly id: string;
    readonly title: string;
    readonly unit: string;
    readonly before: number;
    readonly after: number;
  }[];
  readonly endpoints: readonly EndpointChange[];
}

/** A measure without a limit, of the pulls after the change. */
export interface Reported {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  /** Pulls that showed it, and those in which the sensor stood at the end of its range. */
  readonly pulls: number;
  readonly clipped: number;
  readonly mean: number | null;
  /** The end that harms (the highest, where neither does), and in which pull. */
  readonly extreme: { readonly value: number; readonly pull: number } | null;
  /** Why no pull showed it. */
  readonly notes: readonly string[];
}

/** Events of one kind: one number each. */
export interface EventSummary {
  readonly events: number;
  /** null without an event. */
  readonly mean: number | null;
  readonly deviation: number | null;
  /** The largest, and where: s of recording time. */
  readonly worst?: { readonly value: number; readonly input: number; readonly at: number };
}

/** What passes quickly (tip-in, shift), before and after. */
export interface EventResult {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  readonly about: string;
  readonly before: EventSummary;
  readonly after: EventSummary;
  /** After less before, with its 95 % interval (Welch, one number an event), from three events a side; not tested. */
  readonly difference?: { readonly value: number; readonly low: number; readonly high: number };
  /** Why nothing was seen after the change. */
  readonly notes: readonly string[];
}

/** One cell of a table: what the samples nearest to its node showed. */
export interface TableCell {
  /** rpm, and load in the unit of the table. */
  readonly engineSpeed: number;
  readonly load: number;
  /** Fresh samples, independent ones that they are worth, and separate stretches. */
  readonly samples: number;
  readonly effective: number;
  readonly visits: number;
  readonly mean: number;
  readonly deviation: number | null;
  /** The end that harms, of single samples. */
  readonly extreme: number;
  /** At least 10 effective samples in 3 visits. */
  readonly enough: boolean;
  /** Value of the node by least squares over all samples, and the half-width of its 95 % interval; null without enough. */
  readonly value: number | null;
  readonly reach: number | null;
  /** Overlapping valves may let fresh air through here: mixture and trims are doubtful. */
  readonly scavenging?: true;
}

/** A quantity over engine speed and load, steady and warm samples after the change; cells that were visited. */
export interface Table {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  /** Cylinder or bank. */
  readonly member?: string;
  readonly engineSpeed: readonly number[];
  readonly load: { readonly channel: string; readonly unit: string; readonly points: readonly number[] };
  readonly cells: readonly TableCell[];
}

/** One cell before and after; the interval belongs to a band that holds for all cells of its table together (95 %). */
export interface CellChange {
  readonly engineSpeed: number;
  readonly load: number;
  readonly visits: { readonly before: number; readonly after: number };
  readonly before: number;
  readonly after: number;
  readonly difference: { readonly value: number; readonly low: number; readonly high: number };
  /** `max-t` = by exchanging visits between the sides, from six on both; `student` = Šidák's bound on Student's quantile. */
  readonly band: 'max-t' | 'student';
  readonly changed: boolean;
}

export interface TableChange {
  readonly id: string;
  readonly title: string;
  readonly unit: string;
  readonly member?: string;
  /** Cells that both sides visited three times and more. */
  readonly cells: readonly CellChange[];
}

/** Factor on what the control unit takes for the air, at one node. */
export interface CorrectionNode {
  /** g/s of the air meter, or kPa of manifold pressure. */
  readonly at: number;
  /** rpm; null along the air meter. */
  readonly engineSpeed: number | null;
  readonly samples: number;
  readonly effective: number;
  readonly visits: number;
  readonly enough: boolean;
  /** 1 = as it is; null without enough. With its 95 % interval. */
  readonly factor: number | null;
  readonly low: number | null;
  readonly high: number | null;
  /** Half of the way, clipped: what to put in before the next verification. */
  readonly suggested: number | null;
}

export interface Correction {
  readonly kind: 'air-meter' | 'speed-density';
  readonly axis: { readonly channel: string; readonly unit: string };
  readonly nodes: readonly CorrectionNode[];
  /** What cannot be told apart from it, and how to go on. */
  readonly notes: readonly string[];
}

/** Something about the set of recordings that the reader has to know. */
export interface VerifyProblem {
  readonly code: string;
  /** `refused` = before and after are not compared. */
  readonly severity: 'refused' | 'warning';
  readonly message: string;
}

export interface Verification {
  readonly schema: 'telltale/verification@1';
  readonly vehicle: { readonly id: string };
  readonly inputs: readonly ({ readonly side: Side } & InputReport)[];
  /** `inside` = every limit that can be asked held, the essential ones in ten pulls and more. */
  readonly outcome: 'broken' | 'inside' | 'not-shown';
  readonly reasons: readonly string[];
  readonly problems: readonly VerifyProblem[];
  readonly limits: readonly LimitResult[];
  /** What is told without a limit: compressor, component protection, power, fuel. */
  readonly reported: readonly Reported[];
  readonly change?: Change;
  readonly pulls: readonly PullReport[];
  /** Tip-ins and upshifts at high load. */
  readonly dynamics: readonly EventResult[];
  readonly tables?: readonly Table[];
  readonly cellChanges?: readonly TableChange[];
  readonly correction?: Correction;
  /** What to record, so that what is open closes. */
  readonly record: readonly string[];
  readonly cautions: readonly string[];
}
