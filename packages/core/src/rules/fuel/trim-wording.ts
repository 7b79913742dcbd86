import { namedEthanol } from '../../derived/fuel.js';
import { ethanolTrim } from '../../physics/fuel.js';
import type { Context, Limit } from '../rule.js';
import { clockTime, figure, listed, signed } from '../wording.js';
import { type Cell, REGIMES } from './trim-cells.js';

import type { Difference, Found, TrimObservation } from './trim-findings.js';

export function notesOf(
  seen: readonly TrimObservation[],
  cells: readonly Cell[],
  explained: boolean,
  context: Context,
): string[] {
  const notes: string[] = [];
  if (seen.every(({ allLongZero }) => allLongZero))
    notes.push('All long-term trims are exactly 0: reset not long ago, or not used.');
  const alone = [...new Set(seen.flatMap(({ withoutShort }) => withoutShort))];
  if (alone.length > 0)
    notes.push(`No short-term trim of ${listed(alone)}: the long-term trim is judged alone, at lower confidence.`);
  if (!seen.every(({ closedLoopCertain }) => closedLoopCertain)) {
    notes.push('Closed loop was inferred (fuel system status not recorded).');
  }
  if (cells.some(({ value }) => value < 0) && !seen.some(({ purgeKnown }) => purgeKnown))
    notes.push('Tank ventilation was not recorded: a rich trim may be fuel vapour from the canister.');
  const faded = cells.find((cell) => !Number.isNaN(cell.faded));
  if (faded) {
    notes.push(
      `Idle was ${figure(faded.faded)} points richer while the engine warmed: fuel vapour out of the oil. Its hot part was judged.`,
    );
  }
  const share = namedEthanol(context.vehicle.engine.fuel);
  if (explained)
    notes.push(
      `${context.vehicle.engine.fuel} in an engine mapped for petrol without ethanol asks for ${signed(ethanolTrim(share), 0)} %.`,
    );
  return notes;
}

/** ` Idle: bank 1 +2.1 %, bank 2 +1.4 %. Cruise: …` with a leading space, or nothing. */
export function summaryOf(cells: readonly Cell[]): string {
  return REGIMES.map((regime) => {
    const own = cells.filter((cell) => cell.regime === regime);
    if (own.length === 0) return '';
    return ` ${regime[0]!.toUpperCase()}${regime.slice(1)}: ${own.map(({ bank, value }) => `${spoken(bank)} ${signed(value)} %`).join(', ')}.`;
  }).join('');
}

export function foundSummary(found: readonly Found[], pattern: string): string {
  const [worst] = found;
  const { cell, limit } = worst!;
  const others = found
    .slice(1)
    .map((each) => `${spoken(each.cell.bank)} ${each.cell.regime} ${signed(each.cell.value)} %`);
  return `Total trim of ${spoken(cell.bank)} at ${cell.regime} is ${signed(cell.value)} % (limit ${figure(limit.value)} %; median of ${figure(cell.seconds, 0)} s from ${clockTime(cell.from)}): ${pattern}.${others.length > 0 ? ` Also ${listed(others)}.` : ''}`;
}

export function apartSummary(difference: Difference, limit: Limit): string {
  const [a, b] = difference.banks;
  return `At ${difference.regime} ${spoken(a)} and ${spoken(b)} are ${figure(Math.abs(difference.value))} points apart (limit ${figure(limit.value)}): the cause sits on one bank.`;
}

function spoken(bank: string): string {
  return bank.replace(/^bank/, 'bank ');
}
