import type { Drive, Refusal } from '../derived/recipe.js';
import type { Recording } from '../recording/recording.js';
import { RULES } from '../rules/index.js';
import type { Vehicle } from '../vehicle/vehicle.js';
import { openDrive } from './drive.js';
import { type Notebook, observe, openNotebooks } from './judge.js';

/** What a second thread needs to observe rules of the same drive: structured data only, large columns in shared memory. */
export interface ObservationJob {
  readonly recording: Recording;
  readonly vehicle: Vehicle;
  readonly input: number;
  /** Ids of the rules; the first thread takes them from the front, the second from the back. */
  readonly rules: readonly string[];
  /** One Int32: how many of the rules are taken. */
  readonly taken: SharedArrayBuffer;
}

/** What one rule saw; none of the three = the question makes no sense for this car. */
export interface ObservationAnswer {
  readonly rule: string;
  readonly observed?: { readonly observation: unknown };
  readonly refusal?: Refusal;
  readonly failure?: string;
}

/** A second thread, given by the platform. */
export interface ObservationHelper {
  /** Runs {@link observeShare} on the same drive. May reject: then the first thread observes every rule. */
  observe(job: ObservationJob): Promise<readonly ObservationAnswer[]>;
  /** Called when it is not needed any more. */
  close(): void;
}

/** In the second thread: rules from the back of the list, until none is left that nobody has taken. */
export function observeShare(job: ObservationJob): ObservationAnswer[] {
  const drive = openDrive(job.recording, job.vehicle, job.input);
  const taken = new Int32Array(job.taken);
  const answers: ObservationAnswer[] = [];
  for (let k = job.rules.length - 1; Atomics.add(taken, 0, 1) < job.rules.length; k--) {
    const rule = RULES.find(({ id }) => id === job.rules[k]);
    if (rule === undefined) continue;
    const notebooks = openNotebooks([rule]);
    observe(notebooks, drive);
    answers.push(answerOf(notebooks[0]!));
  }
  return answers;
}

function answerOf({ rule, observed, refusals, failure }: Notebook): ObservationAnswer {
  const [first] = observed;
  return {
    rule: rule.id,
    ...(first === undefined ? {} : { observed: { observation: first.observation } }),
    ...(refusals[0] === undefined ? {} : { refusal: refusals[0] }),
    ...(failure === undefined ? {} : { failure }),
  };
}

/**
 * Lets every rule look at one drive, with the help of a second thread: the notebooks hold what they hold without it,
 * because what a rule observes depends on the drive alone. What the second thread does not answer is done here.
 */
export async function observeWith(
  helper: ObservationHelper,
  notebooks: readonly Notebook[],
  drive: Drive,
  /** Awaited after each rule of the first thread. */
  turn?: () => Promise<unknown>,
): Promise<void> {
  const memory = new SharedArrayBuffer(4);
  const taken = new Int32Array(memory);
  const order = [...notebooks].sort((a, b) => placeOf(a.rule) - placeOf(b.rule));
  const rules = order.map(({ rule }) => rule.id);
  const { recording, vehicle, input } = drive;
  const answering = helper.observe({ recording, vehicle, input, rules, taken: memory }).catch(() => [] as const);
  let front = 0;
  while (Atomics.add(taken, 0, 1) < rules.length) {
    observe([order[front++]!], drive);
    await turn?.();
  }
  const answers = new Map((await answering).map((answer) => [answer.rule, answer]));
  for (const notebook of order.slice(front)) {
    const answer = answers.get(notebook.rule.id);
    if (answer === undefined) observe([notebook], drive);
    else note(notebook, answer, input);
  }
}

/**
 * Rules that derive much of the same stand together, so that one thread does it once: from the back come the gears and what
 * is learned from them, then what looks at the thinned drive; the one that looks at every column is the last of the front.
 */
function placeOf({ id, system, slow }: Notebook['rule']): number {
  if (system === 'transmission') return 4;
  if (system === 'driveline') return 3;
  if (slow === true) return 2;
  return id === 'provenance.recording' ? 1 : 0;
}

function note(notebook: Notebook, { observed, refusal, failure }: ObservationAnswer, input: number): void {
  // A rule that failed on an earlier drive is not judged, whatever it sees now.
  if (notebook.failure !== undefined) return;
  if (failure !== undefined) notebook.failure = failure;
  if (refusal !== undefined) notebook.refusals.push(refusal);
  if (observed !== undefined) notebook.observed.push({ input, observation: observed.observation });
}
