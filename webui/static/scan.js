/* A phone's camera as a scanner, where the browser reads codes by itself; without it, the field is typed into. */
"use strict";

(function camera() {
  const wait = 200; /* milliseconds between two looks at the picture */
  const row = document.querySelector(".camera");
  if (!row) return;
  const button = row.querySelector("button");
  const told = row.querySelector("[role=status]");
  const field = document.getElementById("find-tag");
  row.hidden = false;

  async function read() {
    if (!("BarcodeDetector" in window) || !navigator.mediaDevices) {
      told.textContent = row.dataset.none;
      return;
    }
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      told.textContent = row.dataset.refused;
      return;
    }
    const picture = document.createElement("video");
    picture.muted = picture.playsInline = true;
    picture.srcObject = stream;
    row.append(picture);
    await picture.play();
    const detector = new BarcodeDetector();
    while (picture.isConnected) {
      const [found] = await detector.detect(picture).catch(() => []);
      if (found) {
        stream.getTracks().forEach((track) => track.stop());
        picture.remove();
        field.value = found.rawValue;
        field.form.submit();
        return;
      }
      await new Promise((go) => setTimeout(go, wait));
    }
  }

  button.addEventListener("click", read);
})();
