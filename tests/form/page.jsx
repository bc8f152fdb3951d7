// The form in a renderer that we did not write: opened, read, and its resources extracted. Bundled by smart_forms.py.
import React from "react";
import { createRoot } from "react-dom/client";
import { SmartFormsRenderer, getResponse } from "@aehrc/smart-forms-renderer";
import { inAppExtract } from "@aehrc/sdc-template-extract";

let root = null;
window.openForm = (questionnaire, response) => {
  root?.unmount();
  root = createRoot(document.getElementById("form"));
  root.render(
    <SmartFormsRenderer
      questionnaire={questionnaire}
      questionnaireResponse={response ?? undefined}
      terminologyServerUrl={location.origin}
    />,
  );
};
window.readForm = () => getResponse();
window.extract = async (response, questionnaire) => (await inAppExtract(response, questionnaire)).extractResult;
