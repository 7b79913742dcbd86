import type { Chain, Result } from '../engine/assessment.js';
import { chainOf, type Problem } from './chain.js';
import { MIXTURE } from './mixture-chain.js';

const PROBLEMS: readonly Problem[] = [MIXTURE];

/** What several rules say together, one chain a problem that anything was found of; empty when nothing joins. */
export function chainsOf(results: readonly Result[]): Chain[] {
  return PROBLEMS.map((problem) => chainOf(problem, results)).filter((each) => each !== undefined);
}
