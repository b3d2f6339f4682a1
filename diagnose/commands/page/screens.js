// The screens have the keys as soon as they stand, and again whenever somebody comes back to the window.
const takeKeys = () => document.querySelector(".xterm-helper-textarea")?.focus();
new MutationObserver(takeKeys).observe(document.body, { attributes: true });
window.addEventListener("focus", takeKeys);
