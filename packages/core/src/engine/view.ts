import { spoken } from '../channels/spoken.js';
import { type Drive, type Missing, type Refusal, refuse } from '../derived/recipe.js';
import type { Channel } from '../recording/recording.js';
import type { Needs, Rule, View } from '../rules/rule.js';

/** Channels (or families) that the rule needs and the drive has not, nor what stands in for them; empty when all are there. */
function missingChannels(drive: Drive, needs: Needs): readonly string[] {
  const absent: string[] = [];
  for (const id of needs.channels) {
    const other = needs.instead?.[id];
    if (drive.family(id).length === 0 && (other === undefined || drive.family(other).length === 0)) absent.push(id);
  }
  return absent;
}

/**
 * The drive, narrowed to what the rule declared. Reading anything else throws, so that a rule's `needs` are true:
 * `plan` and the documentation are made from them.
 */
export function narrow(drive: Drive, rule: Pick<Rule, 'id' | 'needs'>): View {
  const { channels, optional, derived } = rule.needs;
  const allowed = new Set<string>([...channels, ...optional]);
  const recipes = new Set<unknown>(derived);
  const permit = (id: string): void => {
    const base = id.split('.')[0] ?? id;
    if (!allowed.has(id) && !allowed.has(base))
      throw new Error(`rule ${rule.id} reads ${id}, which its needs do not name`);
  };
  return {
    input: drive.input,
    time: drive.time,
    duration: drive.recording.duration,
    vehicle: drive.vehicle,
    channel(id): Channel {
      permit(id);
      const found = drive.channel(id) ?? drive.family(id)[0];
      if (found === undefined) throw new Error(`rule ${rule.id}: needed channel ${id} is absent`);
      return found;
    },
    optional(id) {
      permit(id);
      return drive.channel(id);
    },
    family(base) {
      permit(base);
      return drive.family(base);
    },
    derive(recipe) {
      if (!recipes.has(recipe)) throw new Error(`rule ${rule.id} derives ${recipe.id}, which its needs do not name`);
      return drive.derive(recipe);
    },
  };
}

/** What the drive lacks for the rule, or undefined when the rule can look at it. */
export function lacking(drive: Drive, rule: Rule): Refusal | undefined {
  const channels = missingChannels(drive, rule.needs);
  if (channels.length === 0) return undefined;
  return refuse(`${channels.map(spoken).join('; ')} not recorded`, { channels });
}

/** The refusal that comes closest to being judged: fewest missing channels, then fewest missing conditions. */
export function nearest(refusals: readonly Refusal[]): Refusal | undefined {
  let best: Refusal | undefined;
  for (const each of refusals) {
    if (best === undefined || distance(each.missing) < distance(best.missing)) best = each;
  }
  return best;
}

function distance(missing: Missing): number {
  return missing.channels.length * 100 + missing.conditions.length;
}
