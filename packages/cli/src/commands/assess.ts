import { existsSync } from 'node:fs';
import { setImmediate } from 'node:timers/promises';
import {
  type Assessment,
  assess,
  assessmentDocument,
  assessmentPage,
  type Drive,
  didYouMean,
  type InputFile,
  planFor,
  plotsOf,
  RULES,
  redact,
  renderMarkdown,
  renderText,
  type Severity,
  type Spark,
  sparksOf,
  toJson,
  UNKNOWN_VEHICLE,
  type Vehicle,
} from '@telltale/core';
import { EXIT, UserError } from '../exit-code.js';
import { expandFolders, type OpenedInput, openInput } from '../files.js';
import { browserScript, writePage } from '../page.js';
import { loadMap, loadPrices, loadSheet, loadVehicle } from '../side-files.js';
import type { Terminal } from '../terminal/output.js';
import { oneLine } from '../terminal/output.js';
import { paintFor } from '../terminal/paint.js';
import { Progress } from '../terminal/progress.js';

export interface AssessFlags {
  readonly vehicle?: string | undefined;
  readonly map?: string | undefined;
  readonly rate?: number | undefined;
  readonly only?: readonly string[] | undefined;
  readonly json?: boolean | undefined;
  readonly markdown?: boolean | undefined;
  readonly failAt?: Severity | undefined;
  readonly minCoverage?: number | undefined;
  readonly quiet?: boolean | undefined;
  readonly sheet?: string | undefined;
  readonly prices?: string | undefined;
  readonly redact?: boolean | undefined;
  readonly html?: string | undefined;
  /** Small plots in the text: true = also where no terminal is, false = never, absent = where a terminal draws them. */
  readonly plots?: boolean | undefined;
}

/** `telltale assess FILE...`: the health verdict of one car. @returns the exit code. */
export async function assessCommand(given: readonly string[], flags: AssessFlags, terminal: Terminal): Promise<number> {
  if (flags.json && flags.markdown)
    throw new UserError('usage', 'found --json and --markdown together, expected one of them');
  const { rules, files } = separate(flags.only ?? [], given);
  if (files.length === 0) throw new UserError('usage', 'found no file, expected at least one: telltale assess FILE...');
  const vehicle = await loadVehicle(flags.vehicle);
  const map = await loadMap(flags.map);
  const sheet = await loadSheet(flags.sheet);
  const prices = await loadPrices(flags.prices);
  const { interruption } = terminal;
  const inputs: OpenedInput[] = [];
  let progress: Progress | undefined;
  const onBytes = (count: number) => {
    progress?.bytes(count);
    if (interruption?.requested) throw new Error('interrupted');
  };
  const paths = await expandFolders(files);
  for (const path of paths) inputs.push(await openInput(path, onBytes, true));
  // The first thread may be waiting for the second.
  interruption?.onRequest(() => {
    for (const { halt } of inputs) halt?.();
  });
  progress = new Progress(terminal, flags.quiet ?? false, sum(inputs));
  interruption?.keep();
  // Who draws needs the recordings after they were judged; for small plots alone no memory is kept without bound.
  const sparks = !flags.json && (flags.plots ?? (terminal.blocks === true && !flags.markdown && sum(inputs) <= KEPT));
  const drives: Drive[] = [];
  const assessment = await assess(inputs, {
    ...(flags.html === undefined && !sparks ? {} : { onDrive: (drive: Drive) => void drives.push(drive) }),
    onProgress: (done, total, name) => progress?.begin(done, total, name),
    interrupted: () => interruption?.requested ?? false,
    turn: () => setImmediate(),
    ...(vehicle === undefined ? {} : { vehicle }),
    ...(map === undefined ? {} : { map }),
    ...(sheet === undefined ? {} : { sheet }),
    ...(prices === undefined ? {} : { prices }),
    ...(flags.rate === undefined ? {} : { rate: flags.rate }),
    ...(rules.length === 0 ? {} : { only: rules }),
  });
  const nothing = assessment.inputs.every((input) => input.error !== undefined);
  const shown = flags.redact ? redact(assessment) : assessment;
  if (!flags.quiet || (nothing && !flags.json)) warn(shown, flags.redact ? [] : paths, terminal);
  // Without a usable input there is nothing to report; the document is complete all the same.
  if (flags.html !== undefined) await writePage(flags.html, await pageFor(shown, drives, vehicle));
  if (flags.json || !nothing)
    terminal.out(render(shown, flags, terminal, sparks ? sparksOf(shown, drives, RULES) : []));
  return interruption?.requested ? EXIT.interrupted : exitOf(assessment, flags);
}

/** Bytes of recordings up to which they are kept for small plots. */
const KEPT = 300e6;

/** The report as a page, with its plots and the plan of what is left to show. */
async function pageFor(shown: Assessment, drives: readonly Drive[], vehicle: Vehicle | undefined): Promise<string> {
  return assessmentPage(shown, {
    rules: RULES,
    plots: plotsOf(shown, drives, RULES),
    plan: planFor({ ...(vehicle ?? UNKNOWN_VEHICLE), id: shown.vehicle.id }, shown),
    script: await browserScript('report'),
  });
}

function sum(inputs: readonly InputFile[]): number {
  let bytes = 0;
  for (const { size } of inputs) bytes += size ?? 0;
  return bytes;
}

function render(assessment: Assessment, flags: AssessFlags, terminal: Terminal, sparks: readonly Spark[]): string {
  if (flags.json) return toJson(assessment);
  const blocks = assessmentDocument(assessment, RULES, sparks);
  if (flags.markdown) return renderMarkdown(blocks);
  return renderText(blocks, { width: terminal.width, paint: paintFor(terminal.color) });
}

/**
 * `--only` takes several rules, and the files may follow it: what is a rule or a system is taken as such, an existing
 * file as a file, anything else is refused with the nearest rule.
 */
function separate(only: readonly string[], files: readonly string[]): { rules: string[]; files: string[] } {
  const ids = RULES.map((rule) => rule.id);
  const systems = new Set<string>(RULES.map((rule) => rule.system));
  const rules: string[] = [];
  const further: string[] = [];
  for (const word of only.flatMap((each) => each.split(',')).filter((each) => each !== '')) {
    if (ids.includes(word)) rules.push(word);
    else if (systems.has(word)) rules.push(...ids.filter((id) => id.startsWith(`${word}.`)));
    else if (existsSync(word) || /[/\\]|\.(csv|txt|tsv|gz|log)$/i.test(word)) further.push(word);
    else
      throw new UserError(
        'unknown-rule',
        `found --only ${word}, expected a rule or a system${didYouMean(word, [...ids, ...systems])}; telltale rules lists them`,
      );
  }
  return { rules: [...new Set(rules)], files: [...files, ...further] };
}

/** Errors on the terminal name the path as it was typed; results hold base names only. */
function warn(assessment: Assessment, paths: readonly string[], terminal: Terminal): void {
  assessment.inputs.forEach(({ file, error }, i) => {
    if (error === undefined) return;
    const message = error.message.startsWith(file)
      ? `${paths[i] ?? file}${error.message.slice(file.length)}`
      : error.message;
    terminal.err(`telltale: ${error.code}: ${oneLine(message)}\n`);
  });
  for (const result of assessment.results) {
    if (result.outcome === 'error')
      terminal.err(`telltale: rule-failed: ${result.rule}: ${oneLine(result.error)}; this rule counts as not shown\n`);
  }
}

const RANK: Readonly<Record<string, number>> = { watch: 1, repair: 2, stop: 3 };

function exitOf({ inputs, verdict }: Assessment, flags: AssessFlags): number {
  if (inputs.some((input) => input.error !== undefined)) return EXIT.input;
  if (flags.failAt !== undefined && (RANK[verdict.level] ?? 0) >= RANK[flags.failAt]!) return EXIT.verdict;
  if (flags.minCoverage !== undefined && verdict.coverage < flags.minCoverage) return EXIT.verdict;
  return EXIT.done;
}
