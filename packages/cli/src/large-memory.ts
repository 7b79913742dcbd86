import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';

/**
 * Settings of glibc's allocator for large recordings, read by it when a process starts. Without them each column is mapped
 * anew in pages of 4 KiB and given back at once; a virtual machine can take longer over these page faults than over the
 * reading. With them memory comes in pages of 2 MiB and is used again; the one block of all columns (64 MiB and more) is
 * mapped by itself, so that each thread is the first to touch its own part. glibc manual, "Memory Allocation Tunables".
 */
export const MEMORY_SETTINGS =
  'glibc.malloc.hugetlb=1:glibc.malloc.mmap_threshold=67108864:glibc.malloc.trim_threshold=268435456';

/** Settings of the engine with which commands start themselves on large files; `rules` = the command lets rules look. */
export function engineSettings(rules: boolean): readonly string[] {
  return rules ? [...ENGINE_SETTINGS, ...RULE_SETTINGS] : ENGINE_SETTINGS;
}

/** Both cores are at work on the file: threads of the garbage collector would only take turns with them (measured). */
const ENGINE_SETTINGS = ['--single-threaded-gc', '--min-semi-space-size=16'];
/** While rules run in both threads nothing is left to compile beside them: 15 % of the time (measured). */
const RULE_SETTINGS = [
  '--no-concurrent-recompilation',
  // Each rule runs once: what is compiled large pays late.
  '--max-inlined-bytecode-size=100',
  '--max-inlined-bytecode-size-cumulative=200',
];
/** Commands that only read: one thread has a core of its own to compile on. */
const READING = ['columns', 'export'];

/** Bytes of a file from which a second start of Node costs less than it saves (measured). */
const LARGE = 48e6;
/** How this kernel hands out large pages: `always`, `madvise` (to who asks) or `never`. */
const LARGE_PAGES = '/sys/kernel/mm/transparent_hugepage/enabled';
/** Tells the second process that it is one. */
const MARK = 'TELLTALE_LARGE_MEMORY';

/** True when an argument is a large file (or a folder that holds one) and the allocator can be told to prepare for it. */
export function wantsLargeMemory(
  argv: readonly string[],
  environment: NodeJS.ProcessEnv = process.env,
  pages: string = readOr(LARGE_PAGES),
): boolean {
  if (environment.GLIBC_TUNABLES !== undefined || environment[MARK] !== undefined) return false;
  // The logbook itself may be large and is no recording; its own workers read many files with little memory each.
  if (argv[0] === 'track') return false;
  return pages.includes('[madvise]') && argv.some((word) => word[0] !== '-' && isLarge(word));
}

function isLarge(path: string): boolean {
  try {
    const entry = statSync(path);
    if (!entry.isDirectory()) return entry.isFile() && entry.size >= LARGE;
    return readdirSync(path).some((name) => statSync(join(path, name)).size >= LARGE);
  } catch {
    // What cannot be looked at is reported by the command that reads it.
    return false;
  }
}

function readOr(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return '';
  }
}

/**
 * Runs the same command in a process with {@link MEMORY_SETTINGS}, on the same streams, and takes over its exit code.
 * Interruptions are passed on one for one. False when it could not be started: then the command runs here.
 */
export async function runInLargeMemory(argv: readonly string[]): Promise<boolean> {
  const { spawn } = await import('node:child_process');
  const settings = engineSettings(!argv.some((word) => READING.includes(word)));
  const child = spawn(process.execPath, [...process.execArgv, ...settings, process.argv[1]!, ...argv], {
    stdio: ['inherit', 'inherit', 'inherit', 'ipc'],
    env: { ...process.env, GLIBC_TUNABLES: MEMORY_SETTINGS, [MARK]: '1' },
  });
  // The terminal's Ctrl-C reaches both processes, a signal to this one only this one: the second listens to the first.
  const interrupt = () => void (child.connected && child.send('interrupt'));
  const end = (signal: NodeJS.Signals) => void child.kill(signal);
  process.on('SIGINT', interrupt);
  process.on('SIGTERM', end);
  process.on('SIGHUP', end);
  const { constants } = await import('node:os');
  return new Promise((resolve) => {
    child.once('error', () => resolve(false));
    child.once('exit', (code, signal) => {
      process.exitCode = code ?? 128 + (signal === null ? 0 : constants.signals[signal]);
      resolve(true);
    });
  });
}

/** In the second process: interruptions come from the first, and with its end all ends. True when this is one. */
export function followFirstProcess(interrupt: () => void, end: () => void): boolean {
  if (process.env[MARK] === undefined || process.channel === undefined) return false;
  process.on('message', (message) => {
    if (message === 'interrupt') interrupt();
  });
  process.once('disconnect', end);
  // Listening alone is no reason to stay.
  process.channel?.unref();
  return true;
}
