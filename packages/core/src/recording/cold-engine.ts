import { convert } from '../units/index.js';
import { type Candidate, mapLine, type ProblemList, type Rejection } from './candidate.js';
import { traceOf } from './evidence.js';
import { runningTime } from './stillness-marking.js';

/** A coolant that stays below this (degC) after ten minutes of running is in another unit (common practice, no source). */
const NEVER_SO_COLD = 45;
/** Where the coolant of a warm engine lies (degC; common practice, no source). */
const WARM: readonly [number, number] = [70, 118];

/**
 * A coolant column headed degF that would be an engine never above 45 degC after ten minutes of running, while the bare
 * numbers look like a warm engine in degC: the header contradicts the values, so the column is not used. Undefined when
 * there is no contradiction.
 */
export function coldEngineDoubt(
  candidate: Candidate,
  engine: Candidate | undefined,
  time: Float64Array,
  problems: ProblemList,
): Rejection | undefined {
  const { column, facts, sourceUnit, certainty, runs } = candidate;
  if (facts.base !== 'coolantTemperature' || certainty === 'user' || !/f/i.test(sourceUnit)) return undefined;
  if (engine === undefined || runningTime(traceOf(engine), time) < 600) return undefined;
  const bare = convert(runs!.max, 'degC', 'degF');
  if (!(runs!.max < NEVER_SO_COLD && bare >= WARM[0] && bare <= WARM[1])) return undefined;
  const message = `headed "${sourceUnit}", but then the engine never got warmer than ${Math.round(runs!.max)} degC in ten minutes and more; as degC it would be ${Math.round(bare)}; not used`;
  problems.add('unit-doubtful', column, facts.id, message);
  const doubt = `${message}; to settle it, ${mapLine(column, 'unit: degC')} or degF`;
  return { column, channel: facts.id, reason: message, doubts: [doubt], unrecognised: false };
}
