import { EXIT, isUserError } from './exit-code.js';
import { Interruption, oneLine, processTerminal } from './terminal/output.js';
import { VERSION } from './version.js';

/** The only place that ends the process: prints, sets the code, lets the streams drain. */
async function main(): Promise<void> {
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    // A closed standard output (a reader that has seen enough) is no error.
    if (error.code === 'EPIPE') process.exit(EXIT.done);
    throw error;
  });
  const interruption = new Interruption(() => process.exit(EXIT.interrupted));
  process.on('SIGINT', () => interruption.request());
  const argv = process.argv.slice(2);
  if (argv.length === 1 && (argv[0] === '--version' || argv[0] === '-V')) {
    process.stdout.write(`${VERSION}\n`);
    return;
  }
  const terminal = processTerminal(interruption);
  try {
    const { run } = await import('./program.js');
    process.exitCode = await run(argv, terminal, VERSION);
  } catch (error) {
    if (isUserError(error)) {
      for (const line of error.message.split('\n')) terminal.err(`telltale: ${error.code}: ${oneLine(line)}\n`);
      process.exitCode = error.exit;
      return;
    }
    const text = error instanceof Error ? error.message : String(error);
    terminal.err(`telltale: internal: ${oneLine(text)}; please report it, TELLTALE_DEBUG=1 shows where\n`);
    if (process.env.TELLTALE_DEBUG === '1' && error instanceof Error) terminal.err(`${error.stack ?? ''}\n`);
    process.exitCode = EXIT.internal;
  }
}

await main();
