/**
 * Everything but the command line itself: what is slow to load. The build makes one script of it, whose compiled code is kept
 * (see compiled-script.ts); `--version` and `--help` do without.
 */

// For the worker threads.
export { observeShare } from '@telltale/core';
export { privately } from '../privately.js';
export { assessCommand } from './assess.js';
export { columnsCommand } from './columns.js';
export { completionCommand } from './completion.js';
export { exportCommand } from './export.js';
export { pageCommand } from './page.js';
export { planCommand } from './plan.js';
export { rulesCommand } from './rules.js';
export { shortlistCommand } from './shortlist.js';
export { addCommand } from './track/add.js';
export { assessDrive, type DriveJob } from './track/assess-drive.js';
export { backupCommand } from './track/backup.js';
export { dueCommand } from './track/due.js';
export { exportBookCommand } from './track/export.js';
export { forgetCommand } from './track/forget.js';
export { noteCommand } from './track/note.js';
export { restoreCommand } from './track/restore.js';
export { reportCommand, showCommand } from './track/show.js';
export { verifyCommand } from './verify.js';
