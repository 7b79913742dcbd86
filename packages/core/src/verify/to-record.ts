import { spoken } from '../channels/spoken.js';
import type { PullGroup } from './groups.js';
import { FULL } from './limit-check.js';
import type { PullTrace } from './pull.js';
import type { LimitResult } from './verification.js';

/** Pulls of each side from which labels can be exchanged between them. */
const PERMUTED_FROM = 6;

/** What would close the gaps, the shortest list first. */
export function toRecord(
  limits: readonly LimitResult[],
  pulls: readonly PullTrace[],
  groups: readonly PullGroup[],
): string[] {
  const after = pulls.filter(({ side }) => side === 'after').length;
  const open = limits.filter(({ outcome }) => outcome === 'not-shown');
  const channels = [...new Set(open.flatMap(({ missing }) => missing?.channels ?? []))];
  const conditions = [...new Set(open.flatMap(({ missing }) => missing?.conditions ?? []))];
  const found: string[] = [];
  if (after < FULL)
    found.push(
      `${FULL - after} more pulls in one gear, warm, over the same range of engine speed: limits count as held from ${FULL}.`,
    );
  if (channels.length > 0) found.push(`Channels: ${channels.map((id) => `${spoken(id)} (${id})`).join(', ')}.`);
  for (const each of conditions) found.push(`${each.charAt(0).toUpperCase()}${each.slice(1)}.`);
  const group = groups[0];
  const smaller = group === undefined ? 0 : Math.min(group.before.length, group.after.length);
  if (pulls.some(({ side }) => side === 'before') && smaller < PERMUTED_FROM)
    found.push(
      `At least ${PERMUTED_FROM} pulls before and ${PERMUTED_FROM} after in the same gear, alternating the maps on one day: fewer tell a small change from chance only by luck.`,
    );
  return found;
}
