def presence_rules(): return ()
