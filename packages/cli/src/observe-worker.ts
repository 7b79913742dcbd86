/** The rules as the second thread loads them: a part of the same script as the commands. */
export { observeShare } from './commands/index.js';
